package session

import (
	"sort"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/policy"
)

// Generation is the scans of one session of a subject.
type Generation struct {
	Session  string
	Captured day.Day
	Rig      string
	Site     string
	Number   int           // running number, from 1; computed, never stored
	Shots    []policy.Shot // that have a usable take
	Missing  []policy.Shot // of the core shots
	Takes    []*Take       // all that were not withdrawn
}

// Partial reports whether a core shot is missing.
func (g Generation) Partial() bool { return len(g.Missing) > 0 }

// Generations returns the generations of a subject by capture date, then session name.
func (s *State) Generations(subject string, core []policy.Shot) []Generation {
	at := map[string]int{}
	var out []Generation
	for _, t := range s.bySubject[subject] {
		if t.Standing == Withdrawn {
			continue
		}
		i, ok := at[t.Session]
		if !ok {
			i = len(out)
			at[t.Session] = i
			out = append(out, Generation{Session: t.Session, Captured: t.Captured, Rig: t.Rig, Site: t.Site})
		}
		out[i].Takes = append(out[i].Takes, t)
	}
	for _, a := range s.Attempts(subject) {
		g := &out[at[a.Session]]
		g.Shots = append(g.Shots, a.Shot)
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].Captured != out[j].Captured {
			return out[i].Captured < out[j].Captured
		}
		return out[i].Session < out[j].Session
	})
	for i := range out {
		out[i].Number = i + 1
		out[i].Shots = policy.Union(out[i].Shots)
		out[i].Missing = policy.Minus(core, out[i].Shots)
	}
	return out
}

// Covered is how one shot of the shot list stands for a subject.
type Covered struct {
	policy.ShotRule
	Attempt   *Attempt // nil when the likeness has none
	AgeMonths int      // whole months since capture
	Old       bool     // older than the policy allows
}

// Coverage returns how each shot of the shot list stands on asOf, in the list's order.
func (s *State) Coverage(subject string, asOf day.Day, p *policy.Policy) []Covered {
	likeness := s.Likeness(subject, asOf)
	var out []Covered
	for _, r := range p.ShotList {
		c := Covered{ShotRule: r}
		for i := range likeness {
			if likeness[i].Shot == r.Shot() {
				c.Attempt = &likeness[i]
				c.AgeMonths = likeness[i].Captured.MonthsUntil(asOf)
				c.Old = c.AgeMonths >= p.OldAfterMonths(r.Part)
			}
		}
		out = append(out, c)
	}
	return out
}

// RepeatSet is attempts at one shot in one session at one stage: their differences are the rig's noise.
type RepeatSet struct {
	Subject string
	Session string
	Stage   asset.Stage
	Takes   []*Take // two or more, by number
}

// Repeats returns the repeat sets of a shot that a rig captured in the noise epoch that holds on d, by
// subject, session and stage. rig "" means any rig and any day.
func (s *State) Repeats(shot policy.Shot, rig string, d day.Day) []RepeatSet {
	from, until := s.Epoch(rig, d)
	var subjects []string
	for code := range s.bySubject {
		subjects = append(subjects, code)
	}
	sort.Strings(subjects)
	var out []RepeatSet
	for _, code := range subjects {
		sets := map[asset.Stage]*RepeatSet{}
		flush := func() {
			for _, stage := range []asset.Stage{asset.StageRaw, asset.StageCleaned, asset.StageFitted, asset.StageRetouched} {
				if set := sets[stage]; set != nil && len(set.Takes) > 1 {
					out = append(out, *set)
				}
			}
			clear(sets)
		}
		session := ""
		for _, a := range s.Attempts(code) {
			if a.Shot != shot || rig != "" && (a.Rig != rig || !a.Captured.Within(from, until)) {
				continue
			}
			if a.Session != session {
				flush()
				session = a.Session
			}
			for _, t := range a.Takes {
				if sets[t.Stage] == nil {
					sets[t.Stage] = &RepeatSet{Subject: code, Session: a.Session, Stage: t.Stage}
				}
				sets[t.Stage].Takes = append(sets[t.Stage].Takes, t)
			}
		}
		flush()
	}
	return out
}
