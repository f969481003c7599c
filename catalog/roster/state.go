// Package roster keeps everybody and everything that is scanned: subjects with their squads, tiers and
// consents, and props with who wears them.
package roster

import (
	"sort"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold"
	"mien/catalog/record"
)

// Kinds of record about subjects and props.
const (
	KindAdd       record.Kind = "subject.add"
	KindSet       record.Kind = "subject.set"
	KindConsent   record.Kind = "subject.consent"
	KindHold      record.Kind = "subject.hold"
	KindDisclosed record.Kind = "subject.disclosed"
	KindErase     record.Kind = "subject.erase"
	KindWear      record.Kind = "subject.wear"
	KindProp      record.Kind = "prop.add"
)

// AddOpen is the open body of subject.add.
type AddOpen struct {
	Squad string  `json:"squad,omitempty"`
	From  day.Day `json:"from,omitempty"` // first day in the squad
	Tier  int     `json:"tier"`
}

// SetOpen is the open body of subject.set; absent fields stay as they are.
type SetOpen struct {
	Squad *string `json:"squad,omitempty"` // "" leaves every squad
	From  day.Day `json:"from,omitempty"`  // the day from which the squad holds
	Tier  int     `json:"tier,omitempty"`
}

// Sealed is the sealed body of subject.add and subject.set.
type Sealed struct {
	Name string  `json:"name,omitempty"`
	Born day.Day `json:"born,omitempty"`
	Note string  `json:"note,omitempty"`
}

// ConsentOpen is the open body of subject.consent. Revoked ends every consent of these uses on From.
type ConsentOpen struct {
	Uses    []Use   `json:"uses"`
	From    day.Day `json:"from"`
	Until   day.Day `json:"until,omitempty"` // first day on which it no longer holds
	Revoked bool    `json:"revoked,omitempty"`
}

// Noted is a sealed body that holds only a note.
type Noted struct {
	Note string `json:"note,omitempty"`
}

// HoldOpen is the open body of subject.hold: a legal hold forbids erasing.
type HoldOpen struct {
	On bool `json:"on"`
}

// DisclosedOpen is the open body of subject.disclosed: the subject was given what is held about them.
type DisclosedOpen struct {
	On day.Day `json:"on"`
}

// WearOpen is the open body of subject.wear.
type WearOpen struct {
	Prop    string  `json:"prop"`
	Context Context `json:"context"`
	From    day.Day `json:"from"`
	Until   day.Day `json:"until,omitempty"`
}

// PropOpen is the open body of prop.add; the record's subject is the prop's code.
type PropOpen struct {
	Kind       terms.ItemKind `json:"kind"`                 // footwear, accessory, kit
	Side       string         `json:"side,omitempty"`       // left, right
	Mondopoint int            `json:"mondopoint,omitempty"` // foot length in mm, ISO 9407:2019
}

// PropSealed is the sealed body of prop.add.
type PropSealed struct {
	Model  string `json:"model,omitempty"`
	Colour string `json:"colour,omitempty"`
}

// Use is what a consent allows.
type Use string

// Uses.
const (
	UseCapture Use = "capture" // scan the person and keep the files
	UseGame    Use = "game"    // show the likeness in a game
	UseShow    Use = "show"    // show pictures of it outside the department
)

var uses = []Use{UseCapture, UseGame, UseShow}

// Context is on which occasion a prop is worn.
type Context string

// Contexts.
const (
	Match    Context = "match"
	Training Context = "training"
	Arrival  Context = "arrival"
)

var contexts = []Context{Match, Training, Arrival}

// Membership is one stay in a squad. Until is the first day after it, "" while it lasts.
type Membership struct {
	Squad       string
	From, Until day.Day
}

// Consent is one recorded consent or its end.
type Consent struct {
	ConsentOpen
	By   string
	AtMs int64
	Note string
}

// Wear is a prop worn by a subject.
type Wear struct {
	WearOpen
	ID record.ID
}

// Subject is one person of the roster.
type Subject struct {
	Code     string
	Name     string // "" when erased or the key is not here
	Born     day.Day
	Note     string
	Tier     int
	Squads   []Membership // by From
	Consents []Consent    // in the order of the fold
	Wears    []Wear
	Hold     bool
	Erased   bool
	ErasedBy string
	ErasedMs int64
	NoKey    bool // the person's key is not at this site, and the person is not erased
	SinceMs  int64
	Doubled  bool // two sites gave the same code without knowing of each other
	added    record.ID
	matter   fold.Matter
}

// Prop is a thing with a code of its own.
type Prop struct {
	Code string
	PropOpen
	Model, Colour string
	matter        fold.Matter
}

// State is the whole roster.
type State struct {
	subjects map[string]*Subject
	props    map[string]*Prop
}

// NewState returns an empty roster.
func NewState() *State {
	return &State{subjects: map[string]*Subject{}, props: map[string]*Prop{}}
}

// Get returns the subject with code, or a [fault.NotFoundError] with the nearest codes.
func (s *State) Get(code string) (*Subject, error) {
	if v := s.subjects[code]; v != nil {
		return v, nil
	}
	var codes []string
	for _, v := range s.List() {
		codes = append(codes, v.Code)
	}
	return nil, &fault.NotFoundError{What: "subject", ID: code, Near: terms.Nearest(code, codes)}
}

// Prop returns the prop with code.
func (s *State) Prop(code string) (*Prop, error) {
	if v := s.props[code]; v != nil {
		return v, nil
	}
	var codes []string
	for _, v := range s.Props() {
		codes = append(codes, v.Code)
	}
	return nil, &fault.NotFoundError{What: "prop", ID: code, Near: terms.Nearest(code, codes)}
}

// Known reports whether code names a subject or a prop.
func (s *State) Known(code string) bool { return s.subjects[code] != nil || s.props[code] != nil }

// List returns every subject, erased ones too, by code.
func (s *State) List() []*Subject {
	out := make([]*Subject, 0, len(s.subjects))
	for _, v := range s.subjects {
		out = append(out, v)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Code < out[j].Code })
	return out
}

// Props returns every prop by code.
func (s *State) Props() []*Prop {
	out := make([]*Prop, 0, len(s.props))
	for _, v := range s.props {
		out = append(out, v)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Code < out[j].Code })
	return out
}

// In returns the subjects of squad on d by code, without erased ones; squad "" means everybody who is in
// some squad.
func (s *State) In(squad string, d day.Day) []*Subject {
	var out []*Subject
	for _, v := range s.List() {
		if q := v.SquadOn(d); q != "" && !v.Erased && (squad == "" || q == squad) {
			out = append(out, v)
		}
	}
	return out
}

// Squads returns the names of all squads that have a member on d, sorted.
func (s *State) Squads(d day.Day) []string {
	var out []string
	seen := map[string]bool{}
	for _, v := range s.In("", d) {
		if q := v.SquadOn(d); !seen[q] {
			seen[q] = true
			out = append(out, q)
		}
	}
	sort.Strings(out)
	return out
}

// SquadOn returns the squad on d, "" for none.
func (v *Subject) SquadOn(d day.Day) string {
	for i := len(v.Squads) - 1; i >= 0; i-- {
		if m := v.Squads[i]; d.Within(m.From, m.Until) {
			return m.Squad
		}
	}
	return ""
}

// MayUse reports whether a consent to use is in force on d. The last record on the use decides.
func (v *Subject) MayUse(use Use, d day.Day) bool {
	ok := false
	for _, c := range v.Consents {
		for _, u := range c.Uses {
			if u != use || d < c.From {
				continue
			}
			ok = !c.Revoked && d.Within(c.From, c.Until)
		}
	}
	return ok
}

// WornOn returns the props worn on d, in the order they were recorded.
func (v *Subject) WornOn(d day.Day) []Wear {
	var out []Wear
	for _, w := range v.Wears {
		if d.Within(w.From, w.Until) {
			out = append(out, w)
		}
	}
	return out
}
