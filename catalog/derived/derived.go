// Package derived keeps the game assets that were made from takes, and says which of them no longer
// match today's likeness.
package derived

import (
	"sort"
	"strings"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold"
	"mien/catalog/record"
	"mien/catalog/session"
)

// Kinds of record about derived assets. All carry the subject.
const (
	KindAdd    record.Kind = "derived.add"
	KindRemade record.Kind = "derived.remade" // made again, or looked at and found right, from these takes
	KindRetire record.Kind = "derived.retire" // no longer used
)

// Open is the open body of derived.add and, with Asset, of the others.
type Open struct {
	Asset record.ID    `json:"asset,omitzero"`
	Takes []record.ID  `json:"takes,omitempty"`
	Stage asset.Stage  `json:"stage,omitempty"`
	Files []asset.Hash `json:"files,omitempty"` // need not be in the store
	On    day.Day      `json:"on,omitempty"`
}

// Sealed is the sealed body.
type Sealed struct {
	Name    string   `json:"name,omitempty"`
	Regions []string `json:"regions,omitempty"` // that it shows; none means all that its takes show
	Why     string   `json:"why,omitempty"`
}

// Asset is one game asset.
type Asset struct {
	ID      record.ID
	Subject string
	Name    string // "" when the key is not here
	Takes   []record.ID
	Stage   asset.Stage
	Files   []asset.Hash
	Regions []string
	On      day.Day // made, or made again
	By      string
	Retired bool
	Made    int // how often it was made
	matter  fold.Matter
}

// Ref returns the id that people see.
func (a *Asset) Ref() string { return "A-" + a.ID.Short(8) }

// State is every derived asset.
type State struct {
	assets map[record.ID]*Asset
	all    []*Asset
}

// NewState returns a state without assets.
func NewState() *State { return &State{assets: map[record.ID]*Asset{}} }

// Apply folds one record.
func (s *State) Apply(e record.Entry) error {
	switch e.Kind {
	case KindAdd, KindRemade, KindRetire:
	default:
		return nil
	}
	o, sealed, err := fold.Both[Open, Sealed](e)
	if err != nil {
		return err
	}
	if e.Kind == KindAdd {
		a := &Asset{ID: e.ID, Subject: e.Subject, Name: sealed.Name, Takes: o.Takes, Stage: o.Stage, Files: o.Files,
			Regions: sealed.Regions, On: o.On, By: e.By, Made: 1}
		a.matter.Add(e)
		s.assets[e.ID] = a
		s.all = append(s.all, a)
		return nil
	}
	a := s.assets[o.Asset]
	if a == nil {
		return fold.Refuse(e, "no such derived asset: %s", o.Asset.Short(12))
	}
	a.matter.Add(e)
	if e.Kind == KindRetire {
		a.Retired = true
		return nil
	}
	a.Takes, a.On, a.By = o.Takes, o.On, e.By
	a.Made++
	if o.Stage != "" {
		a.Stage = o.Stage
	}
	if len(o.Files) > 0 {
		a.Files = o.Files
	}
	return nil
}

// Of returns the assets of a subject that are in use, by name; subject "" means everybody's.
func (s *State) Of(subject string) []*Asset {
	var out []*Asset
	for _, a := range s.all {
		if !a.Retired && (subject == "" || a.Subject == subject) {
			out = append(out, a)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].Subject != out[j].Subject {
			return out[i].Subject < out[j].Subject
		}
		return out[i].Name < out[j].Name
	})
	return out
}

// Find returns the asset that ref names: its whole name, or the beginning of its id ("A-7k2m9q").
func (s *State) Find(ref string) (*Asset, error) {
	var ids []record.ID
	var names []string
	for _, a := range s.Of("") {
		if a.Name != "" && a.Name == ref {
			return a, nil
		}
		ids, names = append(ids, a.ID), append(names, a.Name)
	}
	id, err := fold.Find("derived asset", "A-", ref, ids)
	if err != nil {
		if _, ok := err.(*fault.AmbiguousError); ok {
			return nil, err
		}
		return nil, &fault.NotFoundError{What: "derived asset", ID: ref, Near: terms.Nearest(ref, names)}
	}
	return s.assets[id], nil
}

// New is what is known of an asset.
type New struct {
	Subject string
	Name    string
	Takes   []record.ID
	Stage   asset.Stage // at which the takes were used; "" means the best each has
	Files   []asset.Hash
	Regions []string
	On      day.Day
}

// Add records an asset and the takes it was made from.
func Add(s *State, takes *session.State, by string, n New) (record.Draft, error) {
	n.Name = strings.TrimSpace(n.Name)
	if n.Name == "" {
		return record.Draft{}, fault.Invalid("derived asset", "a name is needed")
	}
	for _, a := range s.Of("") {
		if a.Name == n.Name {
			return record.Draft{}, &fault.ConflictError{Object: "derived asset " + n.Name, Already: "recorded as " + a.Ref(), By: a.By, When: string(a.On)}
		}
	}
	if err := n.check(takes, n.Name); err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: KindAdd, Subject: n.Subject, By: by, Open: Open{Takes: n.Takes, Stage: n.Stage, Files: n.Files, On: n.On},
		Sealed: Sealed{Name: n.Name, Regions: n.Regions}}, nil
}

// Remade records that an asset was made again from takes, or checked against them and found right.
func Remade(s *State, takes *session.State, by, ref string, n New, why string) (record.Draft, error) {
	a, err := s.Find(ref)
	if err != nil {
		return record.Draft{}, err
	}
	n.Subject = a.Subject
	if err := n.check(takes, a.Name); err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: KindRemade, Subject: a.Subject, By: by, After: a.matter.Heads(),
		Open: Open{Asset: a.ID, Takes: n.Takes, Stage: n.Stage, Files: n.Files, On: n.On}, Sealed: Sealed{Why: why}}, nil
}

// Retire records that an asset is no longer used.
func Retire(s *State, by, ref, why string) (record.Draft, error) {
	a, err := s.Find(ref)
	if err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: KindRetire, Subject: a.Subject, By: by, After: a.matter.Heads(), Open: Open{Asset: a.ID}, Sealed: Sealed{Why: why}}, nil
}

func (n New) check(takes *session.State, name string) error {
	object := "derived asset " + name
	if len(n.Takes) == 0 {
		return fault.Invalid(object, "no take named; it is made from at least one")
	}
	for _, id := range n.Takes {
		t := takes.Take(id)
		switch {
		case t == nil:
			return &fault.NotFoundError{What: "take", ID: id.Short(8)}
		case t.Subject != n.Subject:
			return fault.Invalid(object, "take %s is of %s, the asset of %s", t.Ref(), t.Subject, n.Subject)
		}
	}
	for _, r := range n.Regions {
		if _, err := terms.ParseRegion(r); err != nil {
			return err
		}
	}
	if n.Stage != "" && n.Stage.Rank() < 0 {
		return fault.Invalid(object, "stage %q: allowed are raw, cleaned, fitted, retouched", n.Stage)
	}
	if !n.On.Valid() {
		return fault.Invalid(object, "made on %q: allowed is YYYY-MM-DD", n.On)
	}
	return nil
}
