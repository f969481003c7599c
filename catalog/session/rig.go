package session

import (
	"sort"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Rig is a set of cameras with its noise epochs.
type Rig struct {
	Code   string
	Note   string
	Epochs []Epoch // by From
	matter fold.Matter
}

// Epoch is a span of days in which a rig's noise is one: from a day on until the next change.
type Epoch struct {
	From   day.Day
	Change string
	Note   string
	By     string
}

var rigChanges = []string{"calibration", "cameras", "light", "solver", "other"}

func (s *State) applyRig(e record.Entry) error {
	o, sealed, err := fold.Both[RigOpen, RigSealed](e)
	if err != nil {
		return err
	}
	r := s.rigs[o.Rig]
	if r == nil {
		if e.Kind != KindRig {
			return fold.Refuse(e, "no such rig: %q", o.Rig)
		}
		r = &Rig{Code: o.Rig}
		s.rigs[o.Rig] = r
	}
	r.matter.Add(e)
	if e.Kind == KindRig {
		r.Note = sealed.Note
	}
	r.Epochs = append(r.Epochs, Epoch{From: o.From, Change: o.Change, Note: sealed.Note, By: e.By})
	sort.SliceStable(r.Epochs, func(i, j int) bool { return r.Epochs[i].From < r.Epochs[j].From })
	return nil
}

// Rigs returns every rig by code.
func (s *State) Rigs() []*Rig {
	var out []*Rig
	for _, r := range s.rigs {
		out = append(out, r)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Code < out[j].Code })
	return out
}

// Epoch returns the bounds [from, until) of the noise epoch of rig that holds on d. Both are open for
// an unknown rig.
func (s *State) Epoch(rig string, d day.Day) (from, until day.Day) {
	r := s.rigs[rig]
	if r == nil {
		return "", ""
	}
	for _, e := range r.Epochs {
		if e.From <= d {
			from = e.From
		} else if until == "" {
			until = e.From
		}
	}
	return from, until
}

// AddRig registers a rig; its first noise epoch begins on from.
func AddRig(s *State, by, code string, from day.Day, note string) (record.Draft, error) {
	if !policy.Word(code) {
		return record.Draft{}, fault.Invalid("rig", "code %q: allowed is a lower-case word with hyphens", code)
	}
	if !from.Valid() {
		return record.Draft{}, fault.Invalid("rig "+code, "from %q: allowed is YYYY-MM-DD", from)
	}
	if s.rigs[code] != nil {
		return record.Draft{}, &fault.ConflictError{Object: "rig " + code, Already: "registered"}
	}
	return record.Draft{Kind: KindRig, By: by, Open: RigOpen{Rig: code, From: from}, Sealed: RigSealed{note}}, nil
}

// NoteRig records a change of a rig, which opens a noise epoch on from.
func NoteRig(s *State, by, code string, from day.Day, change, note string) (record.Draft, error) {
	r := s.rigs[code]
	if r == nil {
		var codes []string
		for _, r := range s.Rigs() {
			codes = append(codes, r.Code)
		}
		return record.Draft{}, &fault.NotFoundError{What: "rig", ID: code, Near: terms.Nearest(code, codes)}
	}
	known := false
	for _, c := range rigChanges {
		known = known || c == change
	}
	if !known {
		return record.Draft{}, &terms.UnknownError{What: "change of a rig", Got: change, Near: rigChanges}
	}
	if !from.Valid() {
		return record.Draft{}, fault.Invalid("rig "+code, "from %q: allowed is YYYY-MM-DD", from)
	}
	return record.Draft{Kind: KindRigNote, By: by, After: r.matter.Heads(),
		Open: RigOpen{Rig: code, From: from, Change: change}, Sealed: RigSealed{note}}, nil
}
