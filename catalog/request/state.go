package request

import (
	"mien/catalog/day"
	"mien/catalog/fold"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Event is one record on a request.
type Event struct {
	ID     record.ID
	Kind   record.Kind
	By     string
	AtMs   int64
	Why    string
	Way    Way
	Until  day.Day
	Held   bool   // false when a fact or a later decision stood against it
	Status Status // after it
}

// Contest is two records that did not know of each other and do not agree. The one that holds stands first.
type Contest struct {
	Holds, Against record.ID
}

// Request asks for a likeness to be renewed.
type Request struct {
	ID        record.ID
	Aliases   []record.ID // later requests that were folded into this one
	Subject   string
	Reasons   []policy.Reason // in table order
	Asked     []policy.Shot   // the whole scope
	Shots     []policy.Shot   // what is still to be captured
	Regions   []string
	Sightings []record.ID
	Findings  []record.ID
	Takes     []record.ID // of the likeness that is no longer true
	Got       []record.ID // takes captured for it
	Note      string
	By        string
	AtMs      int64
	Status    Status
	Way       Way
	Until     day.Day
	Visit     record.ID
	Proofs    []Proof
	Pinned    bool
	Log       []Event
	contests  []Contest
	matter    fold.Matter
}

// Raised returns the day on which the request was raised.
func (r *Request) Raised() day.Day { return day.OfMs(r.AtMs) }

// Ref returns the id that people see.
func (r *Request) Ref() string { return "R-" + r.ID.Short(6) }

// Has reports whether reason is among the request's reasons.
func (r *Request) Has(reason policy.Reason) bool {
	for _, v := range r.Reasons {
		if v == reason {
			return true
		}
	}
	return false
}

// Contests returns the contests that nobody has settled since: a contest is settled by a decision
// whose author had seen both sides.
func (r *Request) Contests() []Contest {
	var out []Contest
	for _, c := range r.contests {
		settled := false
		for _, e := range r.Log {
			if _, decides := steps[e.Kind]; decides && e.Held && r.matter.Saw(e.ID, c.Holds) && r.matter.Saw(e.ID, c.Against) {
				settled = true
			}
		}
		if !settled {
			out = append(out, c)
		}
	}
	return out
}

// State is every sighting and request.
type State struct {
	requests  map[record.ID]*Request
	order     []*Request // in the order of the fold
	bySubject map[string][]*Request
	alias     map[record.ID]record.ID
	sightings map[record.ID]*Sighting
	seen      []*Sighting
}

// NewState returns a state without requests.
func NewState() *State {
	return &State{requests: map[record.ID]*Request{}, bySubject: map[string][]*Request{}, alias: map[record.ID]record.ID{}, sightings: map[record.ID]*Sighting{}}
}

// Apply folds one record.
func (s *State) Apply(e record.Entry) error {
	switch e.Kind {
	case KindSighting:
		return s.applySighting(e)
	case KindRaise, KindJoin:
		return s.applyRaise(e)
	case KindPin:
		return s.applyPin(e)
	}
	if st, ok := steps[e.Kind]; ok {
		return s.applyStep(e, st)
	}
	return nil
}

// applyRaise opens a request, or folds it into an earlier live one of the same subject whose scope it
// shares. An approved scope does not grow behind its decision: what goes beyond it stays a request of
// its own.
func (s *State) applyRaise(e record.Entry) error {
	o, sealed, err := fold.Both[RaiseOpen, RaiseSealed](e)
	if err != nil {
		return err
	}
	if e.Kind == KindJoin {
		r := s.resolve(o.Request)
		if r == nil {
			return fold.Refuse(e, "no such request: %s", o.Request.Short(12))
		}
		r.join(e, o, sealed)
		return nil
	}
	shots := policy.Union(o.Shots)
	for _, r := range s.bySubject[e.Subject] {
		if !r.Status.Live() || len(policy.Overlap(shots, r.Shots)) == 0 {
			continue
		}
		r.join(e, o, sealed)
		if r.Status == Open || r.Status == Deferred {
			r.Asked, r.Shots = policy.Union(r.Asked, shots), policy.Union(r.Shots, shots)
			shots = nil
		} else {
			shots = policy.Minus(shots, r.Shots)
		}
		if len(shots) == 0 {
			s.alias[e.ID] = r.ID
			r.Aliases = append(r.Aliases, e.ID)
			return nil
		}
	}
	r := &Request{ID: e.ID, Subject: e.Subject, Asked: shots, Shots: shots, By: e.By, AtMs: e.At.Ms, Status: Open}
	r.join(e, o, sealed)
	s.requests[e.ID] = r
	s.order = append(s.order, r)
	s.bySubject[e.Subject] = append(s.bySubject[e.Subject], r)
	return nil
}

// join adds reasons and evidence.
func (r *Request) join(e record.Entry, o RaiseOpen, sealed RaiseSealed) {
	r.matter.Add(e)
	have := append(append([]policy.Reason(nil), r.Reasons...), o.Reasons...)
	r.Reasons = nil
	for _, v := range policy.Reasons() {
		for _, h := range have {
			if h == v {
				r.Reasons = append(r.Reasons, v)
				break
			}
		}
	}
	r.Sightings = union(r.Sightings, o.Sightings)
	r.Findings = union(r.Findings, o.Findings)
	r.Takes = union(r.Takes, o.Takes)
	r.Regions = union(r.Regions, sealed.Regions)
	if r.Note == "" {
		r.Note = sealed.Note
	}
	r.Log = append(r.Log, Event{ID: e.ID, Kind: e.Kind, By: e.By, AtMs: e.At.Ms, Why: sealed.Note, Held: true, Status: r.Status})
}

func union[T comparable](a, b []T) []T {
	for _, v := range b {
		has := false
		for _, w := range a {
			has = has || v == w
		}
		if !has {
			a = append(a, v)
		}
	}
	return a
}

func (s *State) applyPin(e record.Entry) error {
	o, sealed, err := fold.Both[EventOpen, EventSealed](e)
	if err != nil {
		return err
	}
	r := s.resolve(o.Request)
	if r == nil {
		return fold.Refuse(e, "no such request: %s", o.Request.Short(12))
	}
	r.matter.Add(e)
	r.Pinned = o.Pinned
	r.Log = append(r.Log, Event{ID: e.ID, Kind: e.Kind, By: e.By, AtMs: e.At.Ms, Why: sealed.Why, Held: true, Status: r.Status})
	return nil
}

// applyStep folds a decision or a fact.
//
// A decision whose author did not know of a fact gives way to it. Of two decisions that did not know
// of each other the later in the order of the fold holds, even if the table would not lead from the
// one to the other. Both are shown as contested. A record that is neither, and that the table does not
// allow, is refused.
func (s *State) applyStep(e record.Entry, st step) error {
	o, sealed, err := fold.Both[EventOpen, EventSealed](e)
	if err != nil {
		return err
	}
	r := s.resolve(o.Request)
	if r == nil {
		return fold.Refuse(e, "no such request: %s", o.Request.Short(12))
	}
	r.matter.Add(e)
	ev := Event{ID: e.ID, Kind: e.Kind, By: e.By, AtMs: e.At.Ms, Why: sealed.Why, Way: o.Way, Until: o.Until, Held: true}
	unaware := false
	for _, old := range r.Log {
		was, decides := steps[old.Kind]
		if !decides || !old.Held || !r.matter.Contested(old.ID, e.ID) {
			continue
		}
		if was.fact && st.fact {
			unaware = true
			continue
		}
		if was.fact {
			ev.Held = false
			r.contests = append(r.contests, Contest{Holds: old.ID, Against: e.ID})
			continue
		}
		unaware = true
		if st.fact && st.to == Captured && was.to != Declined && was.to != Withdrawn {
			continue // planning something that was being captured is no disagreement
		}
		if old.Kind != e.Kind || old.Way != ev.Way || old.Until != ev.Until {
			r.contests = append(r.contests, Contest{Holds: e.ID, Against: old.ID})
		}
	}
	if ev.Held && !st.starts(r.Status) && !unaware {
		ev.Held, ev.Status = false, r.Status
		r.Log = append(r.Log, ev)
		return fold.Refuse(e, "request %s is %s", r.Ref(), r.Status)
	}
	if ev.Held {
		r.step(e.Kind, st, o)
	}
	ev.Status = r.Status
	r.Log = append(r.Log, ev)
	return nil
}

func (r *Request) step(k record.Kind, st step, o EventOpen) {
	switch k {
	case KindApprove:
		r.Way = o.Way
	case KindDefer:
		r.Until = o.Until
	case KindPlan:
		r.Visit = o.Visit
	case KindUnplan:
		r.Visit = record.ID{}
	case KindCaptured:
		r.Shots = policy.Minus(r.Shots, o.Shots)
		r.Got = union(r.Got, o.Takes)
		if len(r.Shots) > 0 || r.Status == Met {
			return
		}
	case KindReturn, KindReopen:
		r.Visit = record.ID{}
		switch {
		case len(o.Shots) > 0:
			r.Shots = policy.Union(r.Shots, o.Shots)
		case len(r.Shots) == 0:
			r.Shots = r.Asked
		}
	case KindMet:
		r.Proofs = o.Proofs
	}
	r.Status = st.to
}

// resolve returns the request that id names, itself or as an alias.
func (s *State) resolve(id record.ID) *Request {
	if root, ok := s.alias[id]; ok {
		id = root
	}
	return s.requests[id]
}

// Get returns the request with a whole id, or nil.
func (s *State) Get(id record.ID) *Request { return s.resolve(id) }

// All returns every request in the order they were raised.
func (s *State) All() []*Request { return append([]*Request(nil), s.order...) }

// Of returns the requests of a subject in the order they were raised.
func (s *State) Of(subject string) []*Request {
	return append([]*Request(nil), s.bySubject[subject]...)
}

// Live returns the live requests of a subject whose remaining scope meets shots.
func (s *State) Live(subject string, shots []policy.Shot) []*Request {
	var out []*Request
	for _, r := range s.bySubject[subject] {
		if r.Status.Live() && len(policy.Overlap(shots, r.Shots)) > 0 {
			out = append(out, r)
		}
	}
	return out
}

// Find returns the request whose id, or an alias's, begins with ref ("R-7k2m9q").
func (s *State) Find(ref string) (*Request, error) {
	var ids []record.ID
	for _, r := range s.order {
		ids = append(append(ids, r.ID), r.Aliases...)
	}
	id, err := fold.Find("request", "R-", ref, ids)
	if err != nil {
		return nil, err
	}
	return s.resolve(id), nil
}

// Refs returns the shown id of every request: longer than six letters where two begin alike.
func (s *State) Refs() map[record.ID]string {
	var ids []record.ID
	for _, r := range s.order {
		ids = append(append(ids, r.ID), r.Aliases...)
	}
	out := make(map[record.ID]string, len(s.order))
	for _, r := range s.order {
		out[r.ID] = fold.Shown("R-", r.ID, ids)
	}
	return out
}
