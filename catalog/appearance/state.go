package appearance

import (
	"bytes"
	"slices"
	"sort"

	"mien/catalog/fault"
	"mien/catalog/fold"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Comparison is one comparison of two takes of a subject.
type Comparison struct {
	ID      record.ID
	Subject string
	By      string
	AtMs    int64
	ComparisonOpen
	ComparisonSealed
	Sealed     bool // the key is not here: no findings can be shown
	Superseded bool // the same takes were compared again later
}

// Standing is what became of a finding.
type Standing string

// Standings.
const (
	New      Standing = "new"
	Accepted Standing = "accepted"
	SetAside Standing = "set-aside"
)

// Finding is one finding with what became of it.
type Finding struct {
	ID         record.ID // hash of the comparison's key and N
	N          int       // position in the comparison's document, from 0
	Subject    string
	Comparison *Comparison
	FindingBody
	Standing  Standing
	By        string
	Why       string
	AtMs      int64 // of the decision
	Contested bool  // two sites decided without knowing of each other; the later holds
	Carried   bool  // decided on an earlier comparison of the same takes
}

// Ref returns the id that people see.
func (f Finding) Ref() string { return "F-" + f.ID.Short(8) }

// Shot returns the part and pose that were compared.
func (f Finding) Shot() policy.Shot { return f.Comparison.Shot }

type decision struct {
	standing  Standing
	by, why   string
	atMs      int64
	contested bool
	last      record.ID
	matter    fold.Matter
}

type takes struct{ old, new record.ID }

// State is every sheet, comparison and finding.
type State struct {
	// Moved reports whether a take is filed under somebody else than subject by now, was rejected or
	// withdrawn; nil knows of none. Whoever keeps the takes sets it.
	Moved func(subject string, take record.ID) bool

	items       map[record.ID]*entered
	bySubject   map[string][]*entered // in the order of the fold
	comparisons map[string][]*Comparison
	latest      map[takes]*Comparison
	owner       map[record.ID]string // finding to subject
	decisions   map[record.ID]*decision
}

// NewState returns a state without items and comparisons.
func NewState() *State {
	return &State{items: map[record.ID]*entered{}, bySubject: map[string][]*entered{}, comparisons: map[string][]*Comparison{},
		latest: map[takes]*Comparison{}, owner: map[record.ID]string{}, decisions: map[record.ID]*decision{}}
}

// FindingID returns the lasting id of the n-th finding of a comparison.
func FindingID(c ComparisonOpen, n int) record.ID { return fold.Derive(c.Key[:], n) }

// Apply folds one record.
func (s *State) Apply(e record.Entry) error {
	switch e.Kind {
	case KindAdd:
		return s.applyAdd(e)
	case KindEnd, KindClear, KindWithdraw:
		return s.applyItem(e)
	case KindComparison:
		return s.applyComparison(e)
	case KindAccept, KindSetAside:
		return s.applyDecision(e)
	}
	return nil
}

func (s *State) applyComparison(e record.Entry) error {
	o, sealed, err := fold.Both[ComparisonOpen, ComparisonSealed](e)
	if err != nil {
		return err
	}
	c := &Comparison{ID: e.ID, Subject: e.Subject, By: e.By, AtMs: e.At.Ms, ComparisonOpen: o, ComparisonSealed: sealed, Sealed: e.NoKey}
	k := takes{o.Old, o.New}
	if old := s.latest[k]; old != nil {
		if old.Key == o.Key {
			return nil // two sites made the same comparison
		}
		old.Superseded = true
	}
	s.latest[k] = c
	s.comparisons[e.Subject] = append(s.comparisons[e.Subject], c)
	for n := range c.Findings {
		s.owner[FindingID(o, n)] = e.Subject
	}
	return nil
}

func (s *State) applyDecision(e record.Entry) error {
	o, sealed, err := fold.Both[FindingOpen, Noted](e)
	if err != nil {
		return err
	}
	d := s.decisions[o.Finding]
	if d == nil {
		d = &decision{}
		s.decisions[o.Finding] = d
	}
	d.matter.Add(e)
	d.contested = !d.last.IsZero() && d.matter.Contested(d.last, e.ID)
	d.last, d.by, d.why, d.atMs = e.ID, e.By, sealed.Why, e.At.Ms
	d.standing = Accepted
	if e.Kind == KindSetAside {
		d.standing = SetAside
	}
	return nil
}

// Comparisons returns the comparisons of a subject in the order they were made.
func (s *State) Comparisons(subject string) []*Comparison {
	return append([]*Comparison(nil), s.comparisons[subject]...)
}

// ComparisonOf returns the latest comparison of two takes, or nil.
func (s *State) ComparisonOf(old, new record.ID) *Comparison { return s.latest[takes{old, new}] }

// Findings returns the findings of a subject that no later comparison of the same takes replaced, by
// date of the newer take, then in the order they were made. subject "" means everybody, by code.
// Standings narrows the list; none means all.
//
// A finding of a repeated comparison keeps the decision on the same kind, action and region of the
// comparison before it, and says so in Carried.
func (s *State) Findings(subject string, standings ...Standing) []Finding {
	if subject == "" {
		var codes []string
		for code := range s.comparisons {
			codes = append(codes, code)
		}
		sort.Strings(codes)
		var out []Finding
		for _, code := range codes {
			out = append(out, s.Findings(code, standings...)...)
		}
		return out
	}
	var out []Finding
	for _, c := range s.byDate(subject) {
		if !s.Stands(c) {
			continue
		}
		for n := range c.Findings {
			f := s.finding(c, n)
			keep := len(standings) == 0
			for _, st := range standings {
				keep = keep || f.Standing == st
			}
			if keep {
				out = append(out, f)
			}
		}
	}
	return out
}

func (s *State) byDate(subject string) []*Comparison {
	all := s.Comparisons(subject)
	sort.SliceStable(all, func(i, j int) bool { return all[i].NewCaptured < all[j].NewCaptured })
	return all
}

func (s *State) finding(c *Comparison, n int) Finding {
	f := Finding{ID: FindingID(c.ComparisonOpen, n), N: n, Subject: c.Subject, Comparison: c, FindingBody: c.Findings[n], Standing: New}
	if d := s.decisions[f.ID]; d != nil {
		f.decided(d)
		return f
	}
	for _, o := range s.comparisons[c.Subject] {
		if o == c || o.Old != c.Old || o.New != c.New {
			continue
		}
		for m, b := range o.Findings {
			d := s.decisions[FindingID(o.ComparisonOpen, m)]
			if d != nil && b.Kind == f.Kind && b.Action == f.Action && b.Region == f.Region {
				f.decided(d)
				f.Carried = true
			}
		}
	}
	return f
}

func (f *Finding) decided(d *decision) {
	f.Standing, f.By, f.Why, f.AtMs, f.Contested = d.standing, d.by, d.why, d.atMs, d.contested
}

// Find returns the finding whose id begins with ref ("F-7k2m9q").
func (s *State) Find(ref string) (Finding, error) {
	var ids []record.ID
	for id := range s.owner {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(a, b record.ID) int { return bytes.Compare(a[:], b[:]) })
	id, err := fold.Find("finding", "F-", ref, ids)
	if err != nil {
		return Finding{}, err
	}
	for _, c := range s.comparisons[s.owner[id]] {
		for n := range c.Findings {
			if FindingID(c.ComparisonOpen, n) == id {
				return s.finding(c, n), nil
			}
		}
	}
	return Finding{}, &fault.NotFoundError{What: "finding", ID: ref}
}

// Stands reports whether a comparison is still to be gone by: no later one of the same takes replaced
// it, and both takes are still the subject's and in use.
func (s *State) Stands(c *Comparison) bool {
	return !c.Superseded && (s.Moved == nil || !s.Moved(c.Subject, c.Old) && !s.Moved(c.Subject, c.New))
}
