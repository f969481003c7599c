package visit

import (
	"sort"

	"mien/catalog/day"
	"mien/catalog/fold"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Visit is one stay of the rig somewhere.
type Visit struct {
	ID record.ID
	AddOpen
	AddSealed
	By      string
	AtMs    int64
	Plan    []SlotOpen // in the order of the day; nil before it is planned
	PlanBy  string
	Dropped bool
	Why     string
	Log     []Logged
	// Contested says that two sites planned it without knowing of each other; the later plan holds.
	Contested bool
	lastPlan  record.ID
	matter    fold.Matter
}

// Logged is one entry of the capture log.
type Logged struct {
	ID      record.ID
	Subject string
	By      string
	AtMs    int64
	LogOpen
	Note string
}

// Ref returns the id that people see.
func (v *Visit) Ref() string { return "V-" + v.ID.Short(6) }

// State is every visit.
type State struct {
	visits map[record.ID]*Visit
	all    []*Visit
}

// NewState returns a state without visits.
func NewState() *State { return &State{visits: map[record.ID]*Visit{}} }

// Apply folds one record.
func (s *State) Apply(e record.Entry) error {
	switch e.Kind {
	case KindAdd:
		o, sealed, err := fold.Both[AddOpen, AddSealed](e)
		if err != nil {
			return err
		}
		v := &Visit{ID: e.ID, AddOpen: o, AddSealed: sealed, By: e.By, AtMs: e.At.Ms}
		v.matter.Add(e)
		s.visits[e.ID] = v
		s.all = append(s.all, v)
	case KindPlan:
		o, err := fold.Open[PlanOpen](e)
		if err != nil {
			return err
		}
		v, err := s.named(e, o.Visit)
		if err != nil {
			return err
		}
		v.Contested = !v.lastPlan.IsZero() && v.matter.Contested(v.lastPlan, e.ID)
		v.Plan, v.PlanBy, v.lastPlan = o.Slots, e.By, e.ID
	case KindDrop:
		o, sealed, err := fold.Both[DropOpen, Noted](e)
		if err != nil {
			return err
		}
		v, err := s.named(e, o.Visit)
		if err != nil {
			return err
		}
		v.Dropped, v.Why = true, sealed.Note
	case KindLog:
		o, sealed, err := fold.Both[LogOpen, Noted](e)
		if err != nil {
			return err
		}
		v, err := s.named(e, o.Visit)
		if err != nil {
			return err
		}
		v.Log = append(v.Log, Logged{ID: e.ID, Subject: e.Subject, By: e.By, AtMs: e.At.Ms, LogOpen: o, Note: sealed.Note})
	}
	return nil
}

// named returns the visit that e is about and puts e into its history.
func (s *State) named(e record.Entry, id record.ID) (*Visit, error) {
	v := s.visits[id]
	if v == nil {
		return nil, fold.Refuse(e, "no such visit: %s", id.Short(12))
	}
	v.matter.Add(e)
	return v, nil
}

// List returns every visit by date, then in the order they were added.
func (s *State) List() []*Visit {
	out := append([]*Visit(nil), s.all...)
	sort.SliceStable(out, func(i, j int) bool { return out[i].Date < out[j].Date })
	return out
}

// Get returns the visit with a whole id, or nil.
func (s *State) Get(id record.ID) *Visit { return s.visits[id] }

// Find returns the visit whose id begins with ref ("V-7k2m9q").
func (s *State) Find(ref string) (*Visit, error) {
	ids := make([]record.ID, len(s.all))
	for i, v := range s.all {
		ids[i] = v.ID
	}
	id, err := fold.Find("visit", "V-", ref, ids)
	if err != nil {
		return nil, err
	}
	return s.visits[id], nil
}

// Next returns the visits that begin on d or later and take place, by date.
func (s *State) Next(d day.Day) []*Visit {
	var out []*Visit
	for _, v := range s.List() {
		if v.Date >= d && !v.Dropped {
			out = append(out, v)
		}
	}
	return out
}

// Shot returns what the log says was shot of a subject and need not be shot again, each once.
func (v *Visit) Shot(subject string) []policy.Shot {
	last := map[policy.Shot]Result{}
	var order []policy.Shot
	for _, l := range v.Log {
		if l.Subject != subject {
			continue
		}
		for _, k := range l.Lines {
			if _, ok := last[k.Shot]; !ok {
				order = append(order, k.Shot)
			}
			last[k.Shot] = k.Result
		}
	}
	var out []policy.Shot
	for _, sh := range policy.Union(order) {
		if last[sh] == Shot {
			out = append(out, sh)
		}
	}
	return out
}

// Slot returns the planned turn of a subject, or nil.
func (v *Visit) Slot(subject string) *SlotOpen {
	for i := range v.Plan {
		if v.Plan[i].Subject == subject {
			return &v.Plan[i]
		}
	}
	return nil
}
