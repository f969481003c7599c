package visit

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mien/catalog/fault"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
)

var (
	head  = policy.Shot{Part: "head", Pose: "neutral"}
	body  = policy.Shot{Part: "body", Pose: "a-pose"}
	teeth = policy.Shot{Part: "teeth", Pose: "neutral"}
	smile = policy.Shot{Part: "head", Pose: "smile"}
	shots = []policy.Shot{head, body, teeth, smile}
)

func wish(n int, subject string, score float64, sh ...policy.Shot) Wish {
	return Wish{Request: record.ID{byte(n)}, Subject: subject, Score: score, Shots: sh}
}

func TestASharedShotIsCapturedOnce(t *testing.T) {
	p := policy.Default()
	got := Propose(p, 60, []Wish{wish(1, "ath-2", 10, head, body), wish(2, "ath-2", 5, head, teeth), wish(3, "ath-1", 40, head)})
	if len(got.Slots) != 2 || len(got.Cut) != 0 {
		t.Fatalf("%+v", got)
	}
	if s := got.Slots[0]; s.Subject != "ath-1" || s.Start != 40 || s.HalfMinutes != 2 {
		t.Errorf("the best goes first, after set-up: %+v", s)
	}
	if s := got.Slots[1]; s.Start != 44 || s.HalfMinutes != 5 || len(s.Shots) != 3 || len(s.Requests) != 2 {
		t.Errorf("a wait of two half-minutes, then five: %+v", s)
	}
	if got.RoomHalf != 64 || got.HeldHalf != 16 || got.UsedHalf != 9 {
		t.Errorf("room %d, held back %d, used %d", got.RoomHalf, got.HeldHalf, got.UsedHalf)
	}
}

func TestWhatDoesNotFitIsNamed(t *testing.T) {
	p := policy.Default()
	p.Rig.PerSubjectMinutes = 2
	pinned := wish(3, "ath-3", 1, head)
	pinned.Must = true
	got := Propose(p, 23, []Wish{ // room: 6 half-minutes less 2 held back
		wish(1, "ath-1", 90, head), wish(2, "ath-2", 95, head), pinned, wish(4, "ath-4", 50, head, body, teeth), wish(5, "ath-5", 1)})
	var cut []string
	for _, c := range got.Cut {
		cut = append(cut, c.Subject+": "+c.Why)
	}
	want := []string{"ath-2: the minutes of the visit are worth more elsewhere", "ath-1: the minutes of the visit are worth more elsewhere",
		"ath-4: takes longer than one subject gives", "ath-5: nothing is left to capture"}
	if len(got.Slots) != 1 || got.Slots[0].Subject != "ath-3" || !reflect.DeepEqual(cut, want) {
		t.Errorf("%+v, cut %q", got.Slots, cut)
	}
	if got := Propose(p, 10, []Wish{wish(1, "ath-1", 90, head)}); len(got.Slots) != 0 || got.RoomHalf != 0 {
		t.Errorf("a visit shorter than its set-up: %+v", got)
	}
}

// slow tries every set of wishes.
func slow(p *policy.Policy, room int, wishes []Wish) int64 {
	var best int64
	for mask := uint32(0); mask < 1<<len(wishes); mask++ {
		by := map[string][]policy.Shot{}
		for k, w := range wishes {
			if mask&(1<<k) != 0 {
				by[w.Subject] = append(by[w.Subject], w.Shots...)
			}
		}
		cost, ok := -half(p.Rig.BetweenMinutes), true
		for _, sh := range by {
			n := p.HalfMinutes(sh)
			ok = ok && n <= half(p.Rig.PerSubjectMinutes)
			cost += n + half(p.Rig.BetweenMinutes)
		}
		if ok && (cost <= room || mask == 0) {
			best = max(best, scores(wishes, mask))
		}
	}
	return best
}

func TestThePlanIsTheBest(t *testing.T) {
	p := policy.Default()
	p.Rig.SetUpMinutes, p.Rig.HoldBack = 0, 0
	rapid.Check(t, func(r *rapid.T) {
		p.Rig.PerSubjectMinutes = float64(rapid.IntRange(1, 8).Draw(r, "per subject")) / 2
		p.Rig.BetweenMinutes = float64(rapid.IntRange(0, 3).Draw(r, "between")) / 2
		minutes := rapid.IntRange(0, 10).Draw(r, "minutes")
		var wishes []Wish
		for n := range rapid.IntRange(0, 9).Draw(r, "wishes") {
			w := wish(n, fmt.Sprintf("ath-%d", rapid.IntRange(0, 3).Draw(r, "subject")), float64(rapid.IntRange(0, 30).Draw(r, "score")))
			for _, sh := range shots {
				if rapid.Bool().Draw(r, "shot") {
					w.Shots = append(w.Shots, sh)
				}
			}
			if len(w.Shots) > 0 {
				wishes = append(wishes, w)
			}
		}
		got := Propose(p, minutes, wishes)
		if want := slow(p, 2*minutes, wishes); got.ScoreMillis != want {
			r.Fatalf("plan is worth %d, the best %d", got.ScoreMillis, want)
		}
		if got.UsedHalf > got.RoomHalf {
			r.Fatalf("uses %d of %d half-minutes", got.UsedHalf, got.RoomHalf)
		}
		n := len(got.Cut)
		for _, s := range got.Slots {
			n += len(s.Requests)
		}
		if n != len(wishes) {
			r.Fatalf("%d of %d wishes are accounted for", n, len(wishes))
		}
		for i, j := 0, len(wishes)-1; i < j; i, j = i+1, j-1 {
			wishes[i], wishes[j] = wishes[j], wishes[i]
		}
		if again := Propose(p, minutes, wishes); again.ScoreMillis != got.ScoreMillis || again.UsedHalf != got.UsedHalf {
			r.Fatalf("in another order %d in %d, before %d in %d", again.ScoreMillis, again.UsedHalf, got.ScoreMillis, got.UsedHalf)
		}
	})
}

type desk struct {
	*testing.T
	st  *State
	log *foldtest.Log
}

func (k *desk) do(d record.Draft, err error) record.Entry {
	k.Helper()
	e := k.log.Add(k, d, err)
	if err := k.st.Apply(e); err != nil {
		k.Fatal(err)
	}
	return e
}

func TestAVisit(t *testing.T) {
	k := &desk{t, NewState(), foldtest.New("studio", "2026-03-01")}
	e := k.do(Add(k.st, "lead-1", AddOpen{Date: "2026-03-10", Squads: []string{"terns"}, Minutes: 60, Rig: "rig-1"}, AddSealed{Place: "Hall 2"}))
	ref := "V-" + e.ID.Short(6)
	p := Propose(policy.Default(), 60, []Wish{wish(1, "ath-1", 40, head, body), wish(2, "ath-2", 10, head)})
	k.do(SetPlan(k.st, "lead-1", ref, p.Slots))
	v, _ := k.st.Find(ref)
	if len(v.Plan) != 2 || v.Slot("ath-2") == nil || v.Place != "Hall 2" || v.Contested {
		t.Fatalf("%+v", v)
	}
	k.do(Log(k.st, "op-1", ref, "ath-1", "2026-03-10", Present, []LogOpenOne{{head, 1, Retake}, {head, 2, Shot}, {body, 1, Retake}}, "body again later"))
	k.do(Log(k.st, "op-1", ref, "ath-2", "2026-03-10", NoShow, nil, ""))
	if got := v.Shot("ath-1"); !reflect.DeepEqual(got, []policy.Shot{head}) {
		t.Errorf("shot: %v", got)
	}
	if len(k.st.Next("2026-03-10")) != 1 || len(k.st.Next("2026-03-11")) != 0 {
		t.Error("next visits")
	}
	for name, try := range map[string]func() (record.Draft, error){
		"overlap": func() (record.Draft, error) {
			return SetPlan(k.st, "lead-1", ref, []SlotOpen{{Subject: "a", Start: 40, HalfMinutes: 4, Shots: shots}, {Subject: "b", Start: 42, HalfMinutes: 4, Shots: shots}})
		},
		"too long": func() (record.Draft, error) {
			return SetPlan(k.st, "lead-1", ref, []SlotOpen{{Subject: "a", Start: 40, HalfMinutes: 400, Shots: shots}})
		},
		"nothing shot": func() (record.Draft, error) { return Log(k.st, "op-1", ref, "ath-1", "2026-03-10", Present, nil, "") },
		"no date":      func() (record.Draft, error) { return Log(k.st, "op-1", ref, "ath-1", "soon", NoShow, nil, "") },
		"no squad": func() (record.Draft, error) {
			return Add(k.st, "lead-1", AddOpen{Date: "2026-03-10", Minutes: 60}, AddSealed{})
		},
	} {
		var in *fault.InvalidError
		if _, err := try(); !errors.As(err, &in) {
			t.Errorf("%s: %v", name, err)
		}
	}
	k.do(Drop(k.st, "lead-1", ref, "storm"))
	var c *fault.ConflictError
	if _, err := SetPlan(k.st, "lead-1", ref, nil); !errors.As(err, &c) || !strings.Contains(err.Error(), "storm") {
		t.Error(err)
	}
}

func TestTwoSitesPlanOneVisit(t *testing.T) {
	k := &desk{t, NewState(), foldtest.New("studio", "2026-03-01")}
	e := k.do(Add(k.st, "lead-1", AddOpen{Date: "2026-03-10", Squads: []string{"terns"}, Minutes: 60}, AddSealed{}))
	ref := "V-" + e.ID.Short(6)
	other := foldtest.New("road", "2026-03-02")
	d, err := SetPlan(k.st, "lead-2", ref, []SlotOpen{{Subject: "b", Start: 40, HalfMinutes: 2, Shots: []policy.Shot{head}}})
	other.Add(t, d, err)
	k.do(SetPlan(k.st, "lead-1", ref, []SlotOpen{{Subject: "a", Start: 40, HalfMinutes: 2, Shots: []policy.Shot{head}}}))
	st := NewState()
	for _, e := range foldtest.Merge(other, k.log) {
		if err := st.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	if v, _ := st.Find(ref); !v.Contested || v.Plan[0].Subject != "b" {
		t.Errorf("%+v", v)
	}
}

func BenchmarkProposeASquad(b *testing.B) {
	p := policy.Default()
	var wishes []Wish
	for s := range 30 {
		for n := range 6 {
			w := wish(n, fmt.Sprintf("ath-%04d", s), 10+80*math.Abs(math.Sin(float64(s*7+n))))
			w.Shots = []policy.Shot{p.ShotList[(s+n)%len(p.ShotList)].Shot(), p.ShotList[(s*3+n)%len(p.ShotList)].Shot()}
			wishes = append(wishes, w)
		}
	}
	for b.Loop() {
		Propose(p, 240, wishes)
	}
}
