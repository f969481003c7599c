package request

import (
	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/session"
)

// Showing returns which shots would have to be captured again for a change of kind at region: the shots
// of the shot list whose part shows the region and that are core or in the likeness. Expressions are
// left out: a lead adds those that matter. Footwear means the shoes alone, which need no person.
// region "" means wherever the kind sits.
func (c Context) Showing(subject string, kind terms.ItemKind, region string) []policy.Shot {
	likeness := c.Session.Likeness(subject, c.Today)
	var out []policy.Shot
	for _, r := range c.Policy.ShotList {
		sh := r.Shot()
		if kind == terms.Footwear {
			shoe := sh.Part == asset.PartShoeLeft || sh.Part == asset.PartShoeRight
			if shoe && (region == "" || c.Policy.Shows(sh.Part, region)) {
				out = append(out, sh)
			}
			continue
		}
		if sh.Pose != asset.PoseNeutral && sh.Pose != asset.PoseA || r.Prop {
			continue
		}
		in := r.Core
		for _, a := range likeness {
			in = in || a.Shot == sh
		}
		if in && c.shows(sh.Part, kind, region) {
			out = append(out, sh)
		}
	}
	if len(out) == 0 {
		for _, r := range c.Policy.ShotList {
			if !r.Prop && c.shows(r.Part, kind, region) && (r.Pose == asset.PoseNeutral || r.Pose == asset.PoseA) {
				out = append(out, r.Shot())
			}
		}
	}
	return policy.Union(out)
}

// home is where a kind sits when nobody names a region.
var home = map[terms.ItemKind]terms.Region{
	terms.Hair: terms.Scalp, terms.FacialHair: terms.Chin, terms.TeethItem: terms.Teeth,
	terms.Accessory: terms.Forehead, terms.SkinTone: terms.CheekLeft, terms.Physique: terms.Chest, terms.Kit: terms.Chest,
}

func (c Context) shows(part asset.Part, kind terms.ItemKind, region string) bool {
	if region == "" {
		region = home[kind].String()
	}
	return c.Policy.Shows(part, region)
}

// ForSighting returns what a sighting asks for.
func (c Context) ForSighting(v *Sighting) Ask {
	a := Ask{Subject: v.Subject, Reasons: []policy.Reason{policy.Sighting}, Shots: c.Showing(v.Subject, v.Kind, v.Region),
		Sightings: []record.ID{v.ID}, Note: v.Note}
	if v.Region != "" {
		a.Regions = []string{v.Region}
	}
	a.Takes = c.takes(v.Subject, a.Shots)
	return a
}

// ForFinding returns what an accepted finding asks for: the shots of the likeness that are older than
// the take it was found in and show its region. The shot it was found in is captured anew already, so
// ok is false when nothing older shows the region.
func (c Context) ForFinding(f appearance.Finding) (a Ask, ok bool) {
	a = Ask{Subject: f.Subject, Reasons: []policy.Reason{policy.Finding}, Regions: []string{f.Region}, Findings: []record.ID{f.ID}}
	for _, l := range c.Session.Likeness(f.Subject, c.Today) {
		if l.Shot == f.Comparison.Shot || l.Captured >= f.Comparison.NewCaptured || !c.Policy.Shows(l.Part, f.Region) || c.Policy.Rule(l.Shot).Prop != (f.Kind == terms.Footwear) {
			continue
		}
		a.Shots = append(a.Shots, l.Shot)
		a.Takes = append(a.Takes, l.Best().ID)
	}
	return a, len(a.Shots) > 0
}

func (c Context) takes(subject string, shots []policy.Shot) []record.ID {
	var out []record.ID
	for _, a := range c.Session.Likeness(subject, c.Today) {
		if policy.Has(shots, a.Shot) {
			out = append(out, a.Best().ID)
		}
	}
	return out
}

// Due returns what should be asked for a subject on its own account: core shots that are missing,
// shots whose likeness is old, shots whose newest takes all failed their checks, and shots captured
// before the rig's cameras or solver changed. Every shot stands in one Ask a reason.
//
// Left out is what a live request of the subject covers, and what was declined or withdrawn for that
// reason since the shot was last captured.
func (c Context) Due(s *State, subject string) []Ask {
	by := map[policy.Reason][]policy.Shot{}
	for _, v := range c.Session.Coverage(subject, c.Today, c.Policy) {
		sh := v.Shot()
		switch {
		case v.Attempt == nil && c.failed(subject, sh):
			by[policy.Quality] = append(by[policy.Quality], sh)
		case v.Attempt == nil:
			if v.Core {
				by[policy.MissingPose] = append(by[policy.MissingPose], sh)
			}
		case v.Old:
			by[policy.Age] = append(by[policy.Age], sh)
		case c.otherRig(*v.Attempt):
			by[policy.RigChange] = append(by[policy.RigChange], sh)
		}
	}
	var out []Ask
	for _, reason := range policy.Reasons() {
		var shots []policy.Shot
		for _, sh := range by[reason] {
			if !c.spoken(s, subject, reason, sh) {
				shots = append(shots, sh)
			}
		}
		if len(shots) > 0 {
			out = append(out, Ask{Subject: subject, Reasons: []policy.Reason{reason}, Shots: policy.Union(shots), Takes: c.takes(subject, shots)})
		}
	}
	return out
}

// failed reports whether the shot was captured and every take of it is held back or rejected.
func (c Context) failed(subject string, sh policy.Shot) bool {
	n := 0
	for _, t := range c.Session.Takes(subject) {
		if t.Shot != sh || t.Captured > c.Today || t.Standing == session.Withdrawn {
			continue
		}
		if t.Standing != session.Held && t.Standing != session.Rejected {
			return false
		}
		n++
	}
	return n > 0
}

// otherRig reports whether the rig that captured a has since changed in what it sees.
func (c Context) otherRig(a session.Attempt) bool {
	for _, r := range c.Session.Rigs() {
		if r.Code != a.Rig {
			continue
		}
		for _, e := range r.Epochs {
			if e.From > a.Captured && e.From <= c.Today && (e.Change == "cameras" || e.Change == "solver") {
				return true
			}
		}
	}
	return false
}

// spoken reports whether reason for sh is asked for already, or was turned down since the last capture.
func (c Context) spoken(s *State, subject string, reason policy.Reason, sh policy.Shot) bool {
	var captured string
	for _, a := range c.Session.Likeness(subject, c.Today) {
		if a.Shot == sh {
			captured = string(a.Captured)
		}
	}
	for _, r := range s.bySubject[subject] {
		switch {
		case r.Status.Live() && policy.Has(r.Shots, sh):
			return true
		case r.Status == Captured && policy.Has(r.Asked, sh):
			return true
		case (r.Status == Declined || r.Status == Withdrawn) && r.Has(reason) && policy.Has(r.Asked, sh) && string(r.Raised()) >= captured:
			return true
		}
	}
	return false
}
