package request

import (
	"mien/asset/terms"
	"mien/catalog/fold"
	"mien/catalog/record"
)

// Sighting is a report that a person no longer matches the scan.
type Sighting struct {
	ID      record.ID
	Subject string
	By      string
	AtMs    int64
	SightingOpen
	SightingSealed
	NoKey bool
}

// Ref returns the id that people see.
func (s *Sighting) Ref() string { return "S-" + s.ID.Short(8) }

func (s *State) applySighting(e record.Entry) error {
	o, sealed, err := fold.Both[SightingOpen, SightingSealed](e)
	if err != nil {
		return err
	}
	v := &Sighting{ID: e.ID, Subject: e.Subject, By: e.By, AtMs: e.At.Ms, SightingOpen: o, SightingSealed: sealed, NoKey: e.NoKey}
	s.sightings[e.ID] = v
	s.seen = append(s.seen, v)
	return nil
}

// Sightings returns the sightings of a subject in the order they came; subject "" means all.
func (s *State) Sightings(subject string) []*Sighting {
	var out []*Sighting
	for _, v := range s.seen {
		if subject == "" || v.Subject == subject {
			out = append(out, v)
		}
	}
	return out
}

// Sighting returns the sighting with id, or nil.
func (s *State) Sighting(id record.ID) *Sighting { return s.sightings[id] }

// FindSighting returns the sighting whose id begins with ref ("S-7k2m9q").
func (s *State) FindSighting(ref string) (*Sighting, error) {
	ids := make([]record.ID, len(s.seen))
	for i, v := range s.seen {
		ids[i] = v.ID
	}
	id, err := fold.Find("sighting", "S-", ref, ids)
	if err != nil {
		return nil, err
	}
	return s.sightings[id], nil
}

// Same returns an earlier sighting of the same thing that a live request deals with, or nil: same
// subject and kind, and the same region or one of the two unsaid.
func (s *State) Same(subject string, kind terms.ItemKind, region string) *Sighting {
	probe := &Sighting{Subject: subject, SightingSealed: SightingSealed{Kind: kind, Region: region}}
	for _, r := range s.bySubject[subject] {
		if v := s.among(r, probe); v != nil && r.Status.Live() {
			return v
		}
	}
	return nil
}

// among returns the sighting of r that is of the same thing as v, or nil.
func (s *State) among(r *Request, v *Sighting) *Sighting {
	for _, id := range r.Sightings {
		o := s.sightings[id]
		if o != nil && !o.NoKey && o.Subject == v.Subject && o.Kind == v.Kind && (o.Region == v.Region || o.Region == "" || v.Region == "") {
			return o
		}
	}
	return nil
}

// sighted reports whether r has a sighting of the same thing for each of ids, of which there is one.
func (s *State) sighted(r *Request, ids []record.ID) bool {
	for _, id := range ids {
		if v := s.sightings[id]; v == nil || s.among(r, v) == nil {
			return false
		}
	}
	return len(ids) > 0
}
