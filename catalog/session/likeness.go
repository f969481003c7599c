package session

import (
	"sort"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/policy"
)

// Attempt is one attempt at a shot with its stages.
type Attempt struct {
	Subject  string
	Session  string
	Captured day.Day
	Rig      string
	policy.Shot
	Number   int
	Accepted bool
	Takes    []*Take // usable ones, one a stage, in order of processing
}

// Best returns the take at the highest stage.
func (a Attempt) Best() *Take { return a.Takes[len(a.Takes)-1] }

// At returns the take at stage, or nil.
func (a Attempt) At(stage asset.Stage) *Take {
	for _, t := range a.Takes {
		if t.Stage == stage {
			return t
		}
	}
	return nil
}

// after reports whether a was captured after b: by date, then by session name.
func (a Attempt) after(b Attempt) bool {
	if a.Captured != b.Captured {
		return a.Captured > b.Captured
	}
	return a.Session > b.Session
}

// Attempts returns the attempts of a subject that have a usable take, sorted by date, session, shot and
// number.
//
// A take is usable unless it is held, rejected or withdrawn, or was made from bad files: an earlier stage
// of the attempt was rejected and had not come in again when it came in. Where a stage came in twice the
// later holds. Accepting any stage accepts the attempt, so that a stage that arrives weeks later counts at
// once.
func (s *State) Attempts(subject string) []Attempt {
	type key struct {
		session string
		shot    policy.Shot
		number  int
	}
	at := map[key]int{}
	var groups [][]*Take
	for _, t := range s.bySubject[subject] {
		k := key{t.Session, t.Shot, t.Number}
		i, ok := at[k]
		if !ok {
			i = len(groups)
			at[k] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], t)
	}
	var out []Attempt
	for _, g := range groups {
		t := g[0]
		a := Attempt{Subject: subject, Session: t.Session, Captured: t.Captured, Rig: t.Rig, Shot: t.Shot, Number: t.Number}
		for _, t := range g {
			if t.usable() && !t.replaced(g) && !t.fromBad(g) {
				a.Takes = append(a.Takes, t)
				a.Accepted = a.Accepted || t.Standing == Accepted
			}
		}
		if len(a.Takes) > 0 {
			sort.SliceStable(a.Takes, func(i, j int) bool { return a.Takes[i].Stage.Rank() < a.Takes[j].Stage.Rank() })
			out = append(out, a)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		switch {
		case a.Captured != b.Captured:
			return a.Captured < b.Captured
		case a.Session != b.Session:
			return a.Session < b.Session
		case a.Shot != b.Shot:
			return a.Shot.String() < b.Shot.String()
		}
		return a.Number < b.Number
	})
	return out
}

func (t *Take) usable() bool { return t.Standing == Stored || t.Standing == Accepted }

// replaced reports whether t's stage came in again later. group is the takes of t's attempt in the order
// they came in.
func (t *Take) replaced(group []*Take) bool {
	for _, o := range group {
		if o.Stage == t.Stage && o.order > t.order && o.usable() {
			return true
		}
	}
	return false
}

// fromBad reports whether an earlier stage was rejected and had not come in again before t came in.
func (t *Take) fromBad(group []*Take) bool {
	for _, bad := range group {
		if bad.Standing != Rejected || bad.Stage.Rank() >= t.Stage.Rank() {
			continue
		}
		mended := false
		for _, o := range group {
			mended = mended || o.Stage == bad.Stage && o.usable() && o.order > bad.order && o.order < t.order
		}
		if !mended {
			return true
		}
	}
	return false
}

// Chosen returns the chosen attempt of each shot of each session, in the order of [State.Attempts].
// An explicit choice wins, else the first accepted attempt, else the first that is stored.
func (s *State) Chosen(subject string) []Attempt {
	var out []Attempt
	all := s.Attempts(subject)
	for i := 0; i < len(all); {
		j := i + 1
		for j < len(all) && all[j].Session == all[i].Session && all[j].Shot == all[i].Shot && all[j].Captured == all[i].Captured {
			j++
		}
		out = append(out, s.pick(all[i:j]))
		i = j
	}
	return out
}

// pick returns the chosen one of the attempts at one shot in one session.
func (s *State) pick(list []Attempt) Attempt {
	if n, ok := s.chosen[group{list[0].Subject, list[0].Session, list[0].Shot}]; ok {
		for _, a := range list {
			if a.Number == n {
				return a
			}
		}
	}
	for _, a := range list {
		if a.Accepted {
			return a
		}
	}
	return list[0]
}

// Likeness returns how a subject is held to look on asOf: for each shot the newest accepted chosen
// attempt by capture date, so that a partial generation overlays older ones. Sorted by part and pose.
func (s *State) Likeness(subject string, asOf day.Day) []Attempt {
	return overlay(s.Chosen(subject), func(a Attempt) bool { return a.Accepted && a.Captured <= asOf })
}

// Before returns the likeness as it was before a session.
func (s *State) Before(subject, session string) []Attempt {
	all := s.Chosen(subject)
	var first *Attempt
	for i := range all {
		if all[i].Session == session {
			first = &all[i]
			break
		}
	}
	if first == nil {
		return nil
	}
	return overlay(all, func(a Attempt) bool { return a.Accepted && first.after(a) })
}

// overlay keeps the last attempt of each shot that counts; all is sorted by date.
func overlay(all []Attempt, counts func(Attempt) bool) []Attempt {
	newest := map[policy.Shot]Attempt{}
	var shots []policy.Shot
	for _, a := range all {
		if !counts(a) {
			continue
		}
		if _, ok := newest[a.Shot]; !ok {
			shots = append(shots, a.Shot)
		}
		newest[a.Shot] = a
	}
	var out []Attempt
	for _, shot := range policy.Union(shots) {
		out = append(out, newest[shot])
	}
	return out
}

// Pair is two takes of one shot to compare. SameStage is false when the two have no stage in common.
type Pair struct {
	policy.Shot
	Old, New  *Take
	SameStage bool
}

// PairOf pairs two attempts at their highest common stage, or at the best stage of each if they share none.
func PairOf(old, new Attempt) Pair {
	for i := len(new.Takes) - 1; i >= 0; i-- {
		if o := old.At(new.Takes[i].Stage); o != nil {
			return Pair{Shot: new.Shot, Old: o, New: new.Takes[i], SameStage: true}
		}
	}
	return Pair{Shot: new.Shot, Old: old.Best(), New: new.Best()}
}

// Pairs returns what to compare after session came in: its chosen attempts, accepted or not yet judged,
// against the likeness before. Sorted by part and pose.
func (s *State) Pairs(subject, session string) []Pair {
	var fresh []Attempt
	for _, a := range s.Chosen(subject) {
		if a.Session == session {
			fresh = append(fresh, a)
		}
	}
	return pair(s.Before(subject, session), fresh)
}

// PairsBetween pairs the likeness right after session from with the one right after session to; from ""
// means the likeness before session to, to "" the newest session.
func (s *State) PairsBetween(subject, from, to string) []Pair {
	all := s.Chosen(subject)
	if to == "" && len(all) > 0 {
		to = all[len(all)-1].Session
	}
	if from == "" {
		return pair(s.Before(subject, to), s.upTo(all, to))
	}
	return pair(s.upTo(all, from), s.upTo(all, to))
}

// upTo returns the likeness right after a session, its not yet judged attempts included.
func (s *State) upTo(all []Attempt, session string) []Attempt {
	var last *Attempt
	for i := range all {
		if all[i].Session == session {
			last = &all[i]
		}
	}
	if last == nil {
		return nil
	}
	return overlay(all, func(a Attempt) bool { return !a.after(*last) && (a.Accepted || a.Session == session) })
}

func pair(old, new []Attempt) []Pair {
	var out []Pair
	for _, n := range new {
		for _, o := range old {
			if o.Shot == n.Shot && (o.Session != n.Session || o.Number != n.Number) {
				out = append(out, PairOf(o, n))
			}
		}
	}
	return out
}
