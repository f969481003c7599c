package request

import (
	"fmt"

	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/session"
)

// Proofs gathers what ends the reasons of a request, and says in plain words what is still missing.
//
// For every reason but a sighting: each shot of the whole scope has an accepted attempt captured since,
// see [Context.Since]. For a sighting, besides: an accepted finding of the kind and region that was
// sighted, in a take captured on the day it was seen or later.
func (c Context) Proofs(s *State, r *Request, app *appearance.State) (proofs []Proof, missing []string) {
	var first *session.Attempt
	likeness := c.Session.Likeness(r.Subject, c.Today)
	for _, sh := range r.Asked {
		var got *session.Attempt
		since := c.Since(s, r, sh)
		for i := range likeness {
			if likeness[i].Shot == sh && likeness[i].Captured >= since {
				got = &likeness[i]
			}
		}
		if got == nil {
			missing = append(missing, fmt.Sprintf("%s: no accepted take%s", sh, from(since)))
		} else if first == nil {
			first = got
		}
	}
	for _, reason := range r.Reasons {
		if reason == policy.Sighting {
			continue
		}
		if len(missing) == 0 && first != nil {
			proofs = append(proofs, Proof{Reason: reason, What: ProofCaptured, Take: first.Best().ID})
		}
	}
	if !r.Has(policy.Sighting) {
		return proofs, missing
	}
	seen := true
	var proof Proof
	for _, id := range r.Sightings {
		v := s.sightings[id]
		if v == nil || v.NoKey {
			continue
		}
		f := match(v, app.Findings(r.Subject, appearance.Accepted), v.Seen)
		if f == nil {
			seen = false
			missing = append(missing, fmt.Sprintf("sighting %s: no accepted finding of %s%s", v.Ref(), v.what(), from(v.Seen)))
			continue
		}
		proof = Proof{Reason: policy.Sighting, What: ProofSeen, Finding: f.ID, Take: f.Comparison.New}
	}
	if seen && !proof.Finding.IsZero() {
		proofs = append(proofs, proof)
	}
	return proofs, missing
}

// Since returns the day from which a capture of a shot counts for a request: the latest that its
// reasons ask for. A site that was offline brings captures in after the request was raised, so the day
// of the record is not it. Sighting: the day it was seen. Age and rig: the day after the capture that
// was held too old. Missing pose: any day. Finding, quality, and where nothing else is known: the day
// the request was raised.
func (c Context) Since(s *State, r *Request, sh policy.Shot) day.Day {
	var since day.Day
	for _, reason := range r.Reasons {
		from := r.Raised()
		switch reason {
		case policy.Sighting:
			for i, id := range r.Sightings {
				if v := s.sightings[id]; v != nil && (i == 0 || v.Seen > from) {
					from = v.Seen
				}
			}
		case policy.Age, policy.RigChange:
			for _, id := range r.Takes {
				if t := c.Session.Take(id); t != nil && t.Shot == sh && t.Captured < from {
					from = t.Captured.Add(1)
				}
			}
		case policy.MissingPose:
			from = ""
		}
		since = max(since, from)
	}
	return since
}

func from(d day.Day) string {
	if d == "" {
		return ""
	}
	return " since " + string(d)
}

// what names the thing that was sighted.
func (s *Sighting) what() string {
	if s.Region == "" {
		return string(s.Kind)
	}
	return string(s.Kind) + " on " + s.Region
}

// match returns the first finding that shows what was sighted, in a take captured since.
func match(v *Sighting, findings []appearance.Finding, since day.Day) *appearance.Finding {
	for i, f := range findings {
		if f.Kind == v.Kind && (v.Region == "" || f.Region == v.Region) && f.Comparison.NewCaptured >= since {
			return &findings[i]
		}
	}
	return nil
}

// CapturedBy returns the live requests of a subject that a session has captured something for, with
// those shots and their takes, in the order the requests were raised. The session's usable attempts
// count, whether judged yet or not; what was captured before [Context.Since] does not.
func (c Context) CapturedBy(s *State, subject, name string) []Capture {
	var out []Capture
	attempts := c.Session.Chosen(subject)
	for _, r := range s.bySubject[subject] {
		if !r.Status.Live() || r.Status == Captured {
			continue
		}
		k := Capture{Request: r}
		for _, a := range attempts {
			if a.Session == name && policy.Has(r.Shots, a.Shot) && a.Captured >= c.Since(s, r, a.Shot) {
				k.Shots = append(k.Shots, a.Shot)
				k.Takes = append(k.Takes, a.Best().ID)
			}
		}
		if len(k.Shots) > 0 {
			out = append(out, k)
		}
	}
	return out
}

// Capture is what a session captured for a request.
type Capture struct {
	Request *Request
	Shots   []policy.Shot
	Takes   []record.ID
}
