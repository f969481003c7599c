// Package projection folds all records of a catalog into its state in one pass.
package projection

import (
	"errors"
	"maps"
	"slices"
	"sort"
	"strings"

	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/derived"
	"mien/catalog/fold"
	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/catalog/roster"
	"mien/catalog/session"
	"mien/catalog/visit"
)

// State is everything a catalog knows.
type State struct {
	Policy     *policy.State
	People     *people.State
	Roster     *roster.State
	Session    *session.State
	Appearance *appearance.State
	Request    *request.State
	Visit      *visit.State
	Derived    *derived.State
	Records    int // records folded
	LastMs     int64
}

// Problem is a record that could not be used as it stands.
type Problem = fold.Problem

// New returns the state of a catalog without records.
func New() *State {
	s := &State{Policy: policy.NewState(), People: people.NewState(), Roster: roster.NewState(), Session: session.NewState(),
		Appearance: appearance.NewState(), Request: request.NewState(), Visit: visit.NewState(), Derived: derived.NewState()}
	s.Appearance.Moved = s.moved
	return s
}

// Fold folds entries, which stand in the order of the fold: time, counter, site, id. It does not change
// them. Problems come in the order in which they were met; the state is as if their records were not there.
//
// A record waits for every record that it names as seen and that is among the entries, so that a wrong
// clock cannot put a decision before what it decides. Sealed bodies of an erased subject are not read
// even where the key is still here: every site folds to the same state.
func Fold(entries []record.Entry) (*State, []Problem) {
	s := New()
	f := folder{state: s, at: make(map[record.ID]int, len(entries)), erased: map[string]bool{}}
	for i, e := range entries {
		f.at[e.ID] = i
		if e.Kind == roster.KindErase {
			f.erased[e.Subject] = true
		}
	}
	f.done = make([]bool, len(entries))
	f.entries = entries
	f.waiting = map[int][]int{}
	for i := range entries {
		if f.at[entries[i].ID] == i { // the same record twice counts once
			f.offer(i)
		}
	}
	for _, code := range slices.Sorted(maps.Keys(f.erased)) {
		s.forget(code)
	}
	return s, f.problems
}

// moved reports whether a take is no longer the subject's to judge by.
func (s *State) moved(subject string, take record.ID) bool {
	t := s.Session.Take(take)
	return t != nil && (t.Subject != subject || t.Standing == session.Rejected || t.Standing == session.Withdrawn)
}

type folder struct {
	state    *State
	entries  []record.Entry
	at       map[record.ID]int
	done     []bool
	waiting  map[int][]int // by the record waited for
	erased   map[string]bool
	problems []Problem
}

// offer applies record i, or parks it until what it names as seen is applied.
func (f *folder) offer(i int) {
	ready := []int{i}
	for len(ready) > 0 {
		i, ready = ready[0], ready[1:]
		if f.done[i] {
			continue
		}
		if j, ok := f.blocked(i); ok {
			f.waiting[j] = append(f.waiting[j], i)
			continue
		}
		f.apply(f.entries[i])
		f.done[i] = true
		if next := f.waiting[i]; len(next) > 0 {
			delete(f.waiting, i)
			sort.Ints(next)
			ready = append(next, ready...)
		}
	}
}

func (f *folder) blocked(i int) (int, bool) {
	for _, id := range f.entries[i].After {
		if j, ok := f.at[id]; ok && !f.done[j] && j != i {
			return j, true
		}
	}
	return 0, false
}

func (f *folder) apply(e record.Entry) {
	if e.Subject != "" && f.erased[e.Subject] && (e.Sealed != nil || e.NoKey) {
		e.Sealed, e.NoKey = nil, true
	}
	f.state.Records++
	f.state.LastMs = max(f.state.LastMs, e.At.Ms)
	if err := f.state.Apply(e); err != nil {
		p := Problem{ID: e.ID, Kind: e.Kind, Subject: e.Subject, Why: err.Error()}
		var fp *Problem
		if errors.As(err, &fp) {
			p = *fp
		}
		f.problems = append(f.problems, p)
	}
}

// Apply folds one more record, whose place is after all that were folded.
func (s *State) Apply(e record.Entry) error {
	group, _, _ := strings.Cut(string(e.Kind), ".")
	switch group {
	case "policy":
		return s.Policy.Apply(e)
	case "people":
		return s.People.Apply(e)
	case "subject", "prop":
		err := s.Roster.Apply(e)
		if err == nil && e.Kind == roster.KindErase {
			s.forget(e.Subject)
		}
		return err
	case "intake", "take", "rig":
		return s.Session.Apply(e)
	case "appearance", "comparison", "finding":
		return s.Appearance.Apply(e)
	case "sighting", "request":
		return s.Request.Apply(e)
	case "visit":
		return s.Visit.Apply(e)
	case "derived":
		return s.Derived.Apply(e)
	case "catalog":
		return nil
	}
	return fold.Refuse(e, "kind is not known to this program; the record is kept")
}

// Judge returns what requests are scored against on today.
func (s *State) Judge(today day.Day) request.Context {
	return request.Context{Policy: s.Policy.Policy, Roster: s.Roster, Session: s.Session, Today: today}
}

// Until returns the entries that were recorded on or before d, by the records' own clocks.
func Until(entries []record.Entry, d day.Day) []record.Entry {
	var out []record.Entry
	for _, e := range entries {
		if day.OfMs(e.At.Ms) <= d {
			out = append(out, e)
		}
	}
	return out
}
