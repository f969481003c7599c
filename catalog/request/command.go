package request

import (
	"strings"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Report is what somebody saw.
type Report struct {
	Subject   string
	Kind      terms.ItemKind
	Region    string // may be "" where the kind has no one place
	Note      string
	Source    terms.Source
	Seen      day.Day
	Photo     asset.Hash // in the store, zero for none
	PhotoName string
}

// Sight records a sighting. The caller has checked that the subject is on the roster.
func Sight(s *State, by string, in Report) (record.Draft, error) {
	if _, err := in.check(); err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: KindSighting, Subject: in.Subject, By: by, Open: SightingOpen{Source: in.Source, Seen: in.Seen, Photo: in.Photo},
		Sealed: SightingSealed{Kind: in.Kind, Region: in.Region, Note: in.Note, PhotoName: in.PhotoName}}, nil
}

// check returns the first fault and the field that has it.
func (r Report) check() (field string, err error) {
	if !policy.Word(r.Subject) {
		return "code", fault.Invalid("sighting", "code %q: allowed is a lower-case word with hyphens", r.Subject)
	}
	if _, err := terms.ParseItemKind(string(r.Kind)); err != nil {
		return "kind", err
	}
	if r.Region == "" && placed[r.Kind] {
		return "region", fault.Invalid("sighting "+r.Subject, "a %s needs a region", r.Kind)
	}
	if r.Region != "" {
		if _, err := terms.ParseRegion(r.Region); err != nil {
			return "region", err
		}
	}
	if _, err := terms.ParseSource(string(r.Source)); err != nil {
		return "source", err
	}
	if !r.Seen.Valid() {
		return "seen", fault.Invalid("sighting "+r.Subject, "seen on %q: allowed is YYYY-MM-DD", r.Seen)
	}
	return "", nil
}

// placed are the kinds of item that sit at one place on the body.
var placed = map[terms.ItemKind]bool{terms.Tattoo: true, terms.SkinMark: true}

// Ask is what a request asks for.
type Ask struct {
	Subject   string
	Reasons   []policy.Reason
	Shots     []policy.Shot
	Regions   []string
	Sightings []record.ID
	Findings  []record.ID
	Takes     []record.ID
	Note      string
}

// Raise records a request. If a live request of the same subject covers all the shots already, or waits,
// captured, for a finding of the very things that were sighted again, the draft adds the reasons and
// evidence to that one, which is returned as joined.
func Raise(s *State, by string, a Ask) (d record.Draft, joined *Request, err error) {
	object := "request " + a.Subject
	if len(a.Reasons) == 0 || len(a.Shots) == 0 {
		return d, nil, fault.Invalid(object, "%d reasons and %d shots, at least one of each is needed", len(a.Reasons), len(a.Shots))
	}
	for _, r := range a.Reasons {
		if !r.Known() {
			return d, nil, fault.Invalid(object, "reason %q: allowed are %v", r, policy.Reasons())
		}
	}
	for _, sh := range a.Shots {
		if !policy.Word(string(sh.Part)) || !policy.Word(string(sh.Pose)) {
			return d, nil, fault.Invalid(object, "shot %q: part and pose are lower-case words with hyphens", sh)
		}
	}
	for _, r := range a.Regions {
		if _, err := terms.ParseRegion(r); err != nil {
			return d, nil, err
		}
	}
	for _, id := range a.Sightings {
		if v := s.sightings[id]; v == nil || v.Subject != a.Subject {
			return d, nil, &fault.NotFoundError{What: "sighting of " + a.Subject, ID: id.Short(8)}
		}
	}
	o := RaiseOpen{Reasons: a.Reasons, Shots: policy.Union(a.Shots), Sightings: a.Sightings, Findings: a.Findings, Takes: a.Takes}
	d = record.Draft{Kind: KindRaise, Subject: a.Subject, By: by, Sealed: RaiseSealed{Regions: a.Regions, Note: a.Note}}
	for _, r := range s.bySubject[a.Subject] {
		if r.Status.Live() && len(policy.Minus(o.Shots, r.Shots)) == 0 || r.Status == Captured && s.sighted(r, a.Sightings) {
			joined = r
			o.Request, d.Kind, d.After = r.ID, KindJoin, r.matter.Heads()
			break
		}
	}
	d.Open = o
	return d, joined, nil
}

// Approve decides that a request is carried out, and in which way.
func Approve(s *State, by, ref string, way Way, today day.Day, why string) (record.Draft, error) {
	if _, err := ParseWay(string(way)); err != nil {
		return record.Draft{}, err
	}
	r, err := s.Find(ref)
	if err == nil && r.Status == Approved && r.Way == way {
		err = r.conflict(KindApprove, today)
	}
	return s.event(KindApprove, by, r, err, today, EventOpen{Way: way}, why)
}

// Decline decides that a request is not carried out. It needs a reason.
func Decline(s *State, by, ref string, today day.Day, why string) (record.Draft, error) {
	r, err := s.findWhy(ref, why, "decline")
	return s.event(KindDecline, by, r, err, today, EventOpen{}, why)
}

// Defer puts a request off until a day, on which it is open again by itself.
func Defer(s *State, by, ref string, until, today day.Day, why string) (record.Draft, error) {
	r, err := s.Find(ref)
	if err == nil && (!until.Valid() || until <= today) {
		err = fault.Invalid("request "+r.Ref(), "deferred until %q: allowed is a date after %s", until, today)
	}
	return s.event(KindDefer, by, r, err, today, EventOpen{Until: until}, why)
}

// Withdraw takes a request back that should not have been raised. It needs a reason.
func Withdraw(s *State, by, ref string, today day.Day, why string) (record.Draft, error) {
	r, err := s.findWhy(ref, why, "withdraw")
	return s.event(KindWithdraw, by, r, err, today, EventOpen{}, why)
}

// Reopen opens a request again.
func Reopen(s *State, by, ref string, today day.Day, why string) (record.Draft, error) {
	r, err := s.Find(ref)
	if err == nil && !r.Status.Live() {
		shots := r.Shots
		if len(shots) == 0 {
			shots = r.Asked
		}
		if other := s.Live(r.Subject, shots); len(other) > 0 {
			err = &fault.ConflictError{Object: "request " + r.Ref(), Already: "asked for by " + other[0].Ref(), By: other[0].By, When: string(other[0].Raised())}
		}
	}
	return s.event(KindReopen, by, r, err, today, EventOpen{}, why)
}

// Pin moves a request to the top of the queue, or lets it go back to its place.
func Pin(s *State, by, ref string, pinned bool, why string) (record.Draft, error) {
	r, err := s.Find(ref)
	if err != nil {
		return record.Draft{}, err
	}
	if !r.Status.Live() {
		return record.Draft{}, r.conflict(KindPin, "")
	}
	if r.Pinned == pinned {
		return record.Draft{}, &fault.ConflictError{Object: "request " + r.Ref(), Already: map[bool]string{true: "pinned", false: "not pinned"}[pinned]}
	}
	return r.draft(KindPin, by, EventOpen{Pinned: pinned}, why), nil
}

// Plan puts an approved request into a visit.
func Plan(s *State, by, ref string, visit record.ID, today day.Day) (record.Draft, error) {
	r, err := s.Find(ref)
	if err == nil && r.Status == Planned && r.Visit == visit {
		err = r.conflict(KindPlan, today)
	}
	return s.event(KindPlan, by, r, err, today, EventOpen{Visit: visit}, "")
}

// Unplan takes a request out of its visit.
func Unplan(s *State, by, ref string, today day.Day, why string) (record.Draft, error) {
	r, err := s.Find(ref)
	return s.event(KindUnplan, by, r, err, today, EventOpen{}, why)
}

// MarkCaptured records that shots of a request were captured, as takes. The request is captured when
// nothing of its scope is left; else its scope shrinks.
func MarkCaptured(s *State, by, ref string, shots []policy.Shot, takes []record.ID, today day.Day) (record.Draft, error) {
	r, err := s.Find(ref)
	if err == nil {
		if shots = policy.Overlap(policy.Union(shots), r.Shots); len(shots) == 0 {
			err = fault.Invalid("request "+r.Ref(), "none of these shots is left to capture")
		}
	}
	return s.event(KindCaptured, by, r, err, today, EventOpen{Shots: shots, Takes: takes}, "")
}

// Return puts a captured request back to approved, since the comparison cannot tell: shots are to be
// captured again, all of them if none is named.
func Return(s *State, by, ref string, shots []policy.Shot, today day.Day, why string) (record.Draft, error) {
	r, err := s.findWhy(ref, why, "return")
	return s.event(KindReturn, by, r, err, today, EventOpen{Shots: policy.Union(shots)}, why)
}

// Meet records that every reason of a request is dealt with. Each reason needs a proof that ends it.
func Meet(s *State, by, ref string, proofs []Proof, today day.Day, why string) (record.Draft, error) {
	r, err := s.Find(ref)
	if err == nil {
		for _, reason := range r.Reasons {
			ok := false
			for _, p := range proofs {
				ok = ok || p.Reason == reason && p.proves(r.Way)
			}
			if !ok && steps[KindMet].starts(r.Status) {
				err = fault.Invalid("request "+r.Ref(), "nothing ends the reason %s", reason)
			}
		}
	}
	return s.event(KindMet, by, r, err, today, EventOpen{Proofs: proofs}, why)
}

func (s *State) findWhy(ref, why, verb string) (*Request, error) {
	r, err := s.Find(ref)
	if err == nil && strings.TrimSpace(why) == "" {
		err = fault.Invalid("request "+r.Ref(), "a reason is needed to %s it", verb)
	}
	return r, err
}

func (s *State) event(k record.Kind, by string, r *Request, err error, today day.Day, o EventOpen, why string) (record.Draft, error) {
	if err == nil && !steps[k].starts(r.On(today)) {
		err = r.conflict(k, today)
	}
	if err != nil {
		return record.Draft{}, err
	}
	return r.draft(k, by, o, why), nil
}

func (r *Request) draft(k record.Kind, by string, o EventOpen, why string) record.Draft {
	o.Request = r.ID
	d := record.Draft{Kind: k, Subject: r.Subject, By: by, After: r.matter.Heads(), Open: o}
	if why != "" {
		d.Sealed = EventSealed{Why: why}
	}
	return d
}

// conflict says how r stands and who put it there.
func (r *Request) conflict(k record.Kind, today day.Day) error {
	status := r.Status
	if today != "" {
		status = r.On(today)
	}
	e := &fault.ConflictError{Object: "request " + r.Ref(), Already: string(status)}
	for _, ev := range r.Log {
		if st, ok := steps[ev.Kind]; ok && ev.Held && st.to == status {
			e.By, e.When, e.Why = ev.By, string(day.OfMs(ev.AtMs)), ev.Why
		}
	}
	if status == Open {
		e.By, e.When = r.By, string(r.Raised())
	}
	var from []string
	for _, f := range steps[k].from {
		if f != status {
			from = append(from, string(f))
		}
	}
	if len(from) > 0 {
		e.Allowed = "from " + strings.Join(from, ", ")
	}
	return e
}
