package derived

import (
	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/session"
)

// Standing is how an asset stands against today's likeness.
type Standing string

// Standings.
const (
	Fresh Standing = "fresh"
	Check Standing = "check" // something is not judged or not compared yet
	Stale Standing = "stale"
)

// Cause is one thing that makes an asset stale, or keeps anybody from saying that it is not.
type Cause struct {
	What    What
	Stale   bool                // else it only asks for a check
	Take    record.ID           // the take that the asset was made from
	Now     record.ID           // the take of today's likeness, zero where none
	Shot    policy.Shot         // of Take
	Finding *appearance.Finding // for changed and unjudged
}

// What is the sort of a cause.
type What string

// Sorts of cause.
const (
	Changed     What = "changed"      // an accepted finding touches a region that the asset shows
	Unjudged    What = "unjudged"     // a finding that nobody has judged yet touches one
	NotCompared What = "not-compared" // there is a newer take, and no comparison says what changed
	CannotTell  What = "cannot-tell"  // there is a newer take, and its comparison cannot tell
	BadTake     What = "bad-take"     // the take was rejected, withdrawn or filed under somebody else
	NewerStage  What = "newer-stage"  // the same take is processed further by now
)

// Verdict is how one asset stands, and why.
type Verdict struct {
	Asset *Asset
	Standing
	Causes []Cause
}

// Context is what an asset is held against.
type Context struct {
	Policy     *policy.Policy
	Session    *session.State
	Appearance *appearance.State
	Today      day.Day
}

// Judge says how an asset stands against the likeness on Today.
//
// For each take it was made from, the findings count that came out of comparisons between takes
// captured no earlier than it, whatever shot they were made on, if they touch a region that the asset
// shows: new ink on the neck found on a head scan makes an asset of the body scan stale. Accepted ones
// make it stale, new ones ask for a check, those set aside count nothing. What was added and removed
// again since cancels out. A comparison that began before the take was captured cannot date its
// findings: they ask for a check. A newer take of the same shot without a comparison that tells asks
// for a check too.
func (c Context) Judge(a *Asset) Verdict {
	v := Verdict{Asset: a, Standing: Fresh}
	likeness := c.Session.Likeness(a.Subject, c.Today)
	said := map[record.ID]bool{}
	for _, id := range a.Takes {
		t := c.Session.Take(id)
		if t == nil {
			continue
		}
		if t.Subject != a.Subject || t.Standing == session.Rejected || t.Standing == session.Withdrawn {
			v.Causes = append(v.Causes, Cause{What: BadTake, Stale: true, Take: id, Shot: t.Shot})
		}
		v.Causes = append(v.Causes, c.newer(t, likeness)...)
		for _, cause := range c.findings(a, t) {
			if !said[cause.Finding.ID] {
				said[cause.Finding.ID] = true
				v.Causes = append(v.Causes, cause)
			}
		}
	}
	for _, cause := range v.Causes {
		switch {
		case cause.Stale:
			v.Standing = Stale
		case v.Standing == Fresh:
			v.Standing = Check
		}
	}
	return v
}

// newer says whether today's likeness has another take or stage of t's shot that nobody has compared.
func (c Context) newer(t *session.Take, likeness []session.Attempt) []Cause {
	for _, l := range likeness {
		if l.Shot != t.Shot {
			continue
		}
		cause := Cause{Take: t.ID, Now: l.Best().ID, Shot: t.Shot}
		if l.Session == t.Session && l.Number == t.Number {
			if l.Best().Stage.Rank() > t.Stage.Rank() {
				cause.What = NewerStage
				return []Cause{cause}
			}
			return nil
		}
		if l.Captured < t.Captured {
			return nil
		}
		cause.What = NotCompared
		for _, k := range c.Appearance.Comparisons(t.Subject) {
			n := c.Session.Take(k.New)
			if !c.Appearance.Stands(k) || k.Sealed || n == nil || n.Session != l.Session || n.Shot != l.Shot {
				continue
			}
			if k.Verdict != "cannot-tell" {
				return nil
			}
			cause.What = CannotTell
		}
		return []Cause{cause}
	}
	return nil
}

// findings returns the causes that findings since t are.
func (c Context) findings(a *Asset, t *session.Take) []Cause {
	type place struct {
		kind   terms.ItemKind
		region string
	}
	var out []Cause
	came := map[place]int{} // position in out of an item that was added since
	gone := map[int]bool{}
	for _, f := range c.Appearance.Findings(a.Subject, appearance.Accepted, appearance.New) {
		k := f.Comparison
		if k.NewCaptured <= t.Captured || k.NewCaptured > c.Today || !c.touches(a, t, f) {
			continue
		}
		cause := Cause{What: Unjudged, Take: t.ID, Now: k.New, Shot: t.Shot, Finding: &f}
		dated := k.OldCaptured >= t.Captured
		if f.Standing == appearance.Accepted {
			cause.What, cause.Stale = Changed, dated
			at := place{f.Kind, f.Region}
			switch {
			case f.Action == terms.Added && dated:
				came[at] = len(out)
			case f.Action == terms.Removed:
				if i, ok := came[at]; ok {
					gone[i] = true
					delete(came, at)
					continue
				}
			}
		}
		out = append(out, cause)
	}
	kept := out[:0]
	for i, cause := range out {
		if !gone[i] {
			kept = append(kept, cause)
		}
	}
	return kept
}

// touches reports whether the asset shows the finding's region, through t.
func (c Context) touches(a *Asset, t *session.Take, f appearance.Finding) bool {
	if shoes := c.Policy.Rule(t.Shot).Prop; shoes != (f.Kind == terms.Footwear) && !(t.Shot == f.Comparison.Shot) {
		return false
	}
	if len(a.Regions) == 0 {
		return c.Policy.Shows(t.Part, f.Region)
	}
	for _, r := range a.Regions {
		if r == f.Region {
			return true
		}
	}
	return false
}

// List judges every asset in use of a subject, stale ones first, then those to check; subject "" means
// everybody's.
func (c Context) List(s *State, subject string) []Verdict {
	var by [3][]Verdict
	for _, a := range s.Of(subject) {
		v := c.Judge(a)
		switch v.Standing {
		case Stale:
			by[0] = append(by[0], v)
		case Check:
			by[1] = append(by[1], v)
		default:
			by[2] = append(by[2], v)
		}
	}
	return append(append(by[0], by[1]...), by[2]...)
}
