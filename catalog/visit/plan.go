package visit

import (
	"math"
	"sort"

	"mien/catalog/policy"
	"mien/catalog/record"
)

// Wish is one request that could be carried out at a visit.
type Wish struct {
	Request record.ID
	Subject string
	Shots   []policy.Shot
	Score   float64 // as the queue gives it, at least 0
	Must    bool    // pinned: goes before everything that is not
}

// Proposal is a plan and what did not fit.
type Proposal struct {
	Slots       []SlotOpen
	Cut         []Cut
	UsedHalf    int // half-minutes of capture, waits between subjects included
	RoomHalf    int // half-minutes that could be planned
	SetUpHalf   int
	HeldHalf    int // kept free for no-shows and retakes
	ScoreMillis int64
}

// Cut is a wish that is not in the plan.
type Cut struct {
	Wish
	Why string
}

// mostWishes bounds the wishes of one subject whose combinations are all tried; beyond it the best
// scored are kept.
const mostWishes = 12

// option is one set of one subject's wishes.
type option struct {
	cost  int // half-minutes, wait before the next subject included
	value int64
	mask  uint32
}

// Propose plans one visit of minutes length: the set of wishes with the greatest total score that fits.
//
// The room is the visit less set-up, less the share held back. A subject gives at most the policy's
// minutes; a shot that serves two wishes is captured once; each subject costs the wait between subjects
// besides. For every subject all sets of wishes are tried, then one set a subject is chosen by an exact
// multiple-choice knapsack over half-minutes (Kellerer, Pferschy, Pisinger, Knapsack Problems, 2004,
// chapter 11). Of two plans of equal score the shorter holds; of two equally long ones the one whose
// subjects come earlier by code. Exact up to 12 wishes a subject; scores count in
// thousandths, the least as one.
//
// Turns are ordered by falling score, then by code, so that a late start loses least.
// Cost: O(subjects * sets * half-minutes) time, O(subjects * half-minutes) memory.
func Propose(p *policy.Policy, minutes int, wishes []Wish) Proposal {
	out := Proposal{SetUpHalf: half(p.Rig.SetUpMinutes)}
	free := max(0, 2*minutes-out.SetUpHalf)
	out.HeldHalf = int(math.Ceil(float64(free)*p.Rig.HoldBack - 1e-9))
	out.RoomHalf = free - out.HeldHalf

	subjects, bySubject, cut := grouped(p, wishes)
	out.Cut = cut
	wait := half(p.Rig.BetweenMinutes)
	sets := make([][]option, len(subjects))
	for i, code := range subjects {
		sets[i] = options(p, bySubject[code], wait)
	}
	picked := knapsack(sets, out.RoomHalf+wait) // nobody waits after the last

	type turn struct {
		slot  SlotOpen
		value int64
	}
	var turns []turn
	for i, code := range subjects {
		list := bySubject[code]
		chosen := picked[i]
		var shots []policy.Shot
		t := turn{slot: SlotOpen{Subject: code}}
		for k, w := range list {
			if chosen.mask&(1<<k) == 0 {
				out.Cut = append(out.Cut, Cut{w, "the minutes of the visit are worth more elsewhere"})
				continue
			}
			shots = append(shots, w.Shots...)
			t.slot.Requests = append(t.slot.Requests, w.Request)
		}
		if chosen.mask == 0 {
			continue
		}
		t.slot.Shots = policy.Union(shots)
		t.slot.HalfMinutes = p.HalfMinutes(t.slot.Shots)
		t.value = chosen.value
		out.ScoreMillis += scores(list, chosen.mask)
		turns = append(turns, t)
	}
	sort.SliceStable(turns, func(i, j int) bool { return turns[i].value > turns[j].value })
	at := out.SetUpHalf
	for i, t := range turns {
		if i > 0 {
			at += wait
			out.UsedHalf += wait
		}
		t.slot.Start = at
		at += t.slot.HalfMinutes
		out.UsedHalf += t.slot.HalfMinutes
		out.Slots = append(out.Slots, t.slot)
	}
	sort.SliceStable(out.Cut, func(i, j int) bool { return out.Cut[i].Score > out.Cut[j].Score })
	return out
}

// grouped sorts wishes by subject and cuts those that can never fit.
func grouped(p *policy.Policy, wishes []Wish) (subjects []string, by map[string][]Wish, cut []Cut) {
	by = map[string][]Wish{}
	most := half(p.Rig.PerSubjectMinutes)
	for _, w := range wishes {
		if len(w.Shots) == 0 {
			cut = append(cut, Cut{w, "nothing is left to capture"})
			continue
		}
		if p.HalfMinutes(w.Shots) > most {
			cut = append(cut, Cut{w, "takes longer than one subject gives"})
			continue
		}
		if by[w.Subject] == nil {
			subjects = append(subjects, w.Subject)
		}
		by[w.Subject] = append(by[w.Subject], w)
	}
	sort.Strings(subjects)
	for _, code := range subjects {
		list := by[code]
		sort.SliceStable(list, func(i, j int) bool {
			if list[i].Must != list[j].Must {
				return list[i].Must
			}
			return list[i].Score > list[j].Score
		})
		if len(list) > mostWishes {
			for _, w := range list[mostWishes:] {
				cut = append(cut, Cut{w, "more wishes than one subject can have planned"})
			}
			by[code] = list[:mostWishes]
		}
	}
	return subjects, by, cut
}

// mustWorth is what a pinned wish is worth beyond its score, in thousandths: more than all scores of a
// visit together.
const mustWorth = int64(1) << 40

func scores(list []Wish, mask uint32) int64 {
	var sum int64
	for k, w := range list {
		if mask&(1<<k) != 0 {
			sum += max(1, int64(math.Round(w.Score*1000)))
		}
	}
	return sum
}

// options returns the sets of a subject's wishes that are worth trying: for each cost the best set,
// cheaper before dearer, none that a cheaper one equals. The first is the empty set.
func options(p *policy.Policy, list []Wish, wait int) []option {
	most := half(p.Rig.PerSubjectMinutes)
	best := make([]option, most+wait+1)
	for mask := uint32(1); mask < 1<<len(list); mask++ {
		var shots []policy.Shot
		value := scores(list, mask)
		for k, w := range list {
			if mask&(1<<k) != 0 {
				shots = append(shots, w.Shots...)
				if w.Must {
					value += mustWorth
				}
			}
		}
		cost := p.HalfMinutes(shots)
		if cost > most {
			continue
		}
		cost += wait
		if best[cost].mask == 0 || value > best[cost].value {
			best[cost] = option{cost, value, mask}
		}
	}
	out := []option{{}}
	for _, o := range best {
		if o.mask != 0 && o.value > out[len(out)-1].value {
			out = append(out, o)
		}
	}
	return out
}

// knapsack chooses one option of each set so that the costs fit into room and the sum of values is
// greatest.
func knapsack(sets [][]option, room int) []option {
	room = max(room, 0)
	value := make([]int64, room+1) // best with at most this much room, over the sets so far
	pick := make([][]uint16, len(sets))
	for i, set := range sets {
		pick[i] = make([]uint16, room+1)
		next := make([]int64, room+1)
		for r := 0; r <= room; r++ {
			next[r] = value[r]
			for k, o := range set[1:] {
				if o.cost <= r && value[r-o.cost]+o.value > next[r] {
					next[r] = value[r-o.cost] + o.value
					pick[i][r] = uint16(k + 1)
				}
			}
		}
		value = next
	}
	r := room
	for r > 0 && value[r-1] == value[room] {
		r--
	}
	out := make([]option, len(sets))
	for i := len(sets) - 1; i >= 0; i-- {
		out[i] = sets[i][pick[i][r]]
		r -= out[i].cost
	}
	return out
}

func half(minutes float64) int { return int(math.Round(minutes * 2)) }
