package loop

import (
	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/derived"
	"mien/catalog/policy"
	"mien/catalog/request"
	"mien/catalog/roster"
)

// Standings of a subject's likeness.
const (
	Current = "current"
	Ageing  = "ageing" // a core shot is missing or older than the policy allows
	Wrong   = "wrong"  // something is known to differ: a request is live, or a game asset is stale
)

// SubjectReadiness is how one subject stands.
type SubjectReadiness struct {
	Code        string   `json:"code"`
	Squad       string   `json:"squad"`
	Tier        int      `json:"tier"`
	Standing    string   `json:"standing"`
	Missing     []string `json:"missing"` // core shots without an accepted take
	Old         []string `json:"old"`     // core shots past their age
	OldestDays  int      `json:"oldest_days"`
	Requests    int      `json:"requests"` // live
	StaleAssets int      `json:"stale_assets"`
	Unjudged    int      `json:"unjudged_findings"`
	Footwear    string   `json:"footwear"` // current, wrong
	Minutes     float64  `json:"minutes"`  // rig minutes that live requests ask for
	ArtistDays  float64  `json:"artist_days"`
}

// SquadReadiness sums up a squad.
type SquadReadiness struct {
	Squad      string  `json:"squad"`
	Subjects   int     `json:"subjects"`
	Current    int     `json:"current"`
	Ageing     int     `json:"ageing"`
	Wrong      int     `json:"wrong"`
	Minutes    float64 `json:"minutes"`
	ArtistDays float64 `json:"artist_days"`
}

// ReadinessReport is the document `mien.readiness/1`.
type ReadinessReport struct {
	Schema   string             `json:"schema"`
	AsOf     day.Day            `json:"as_of"`
	Squads   []SquadReadiness   `json:"squads"`
	Subjects []SubjectReadiness `json:"subjects"`
}

// Readiness says how squads and subjects stand on a day, "" for today; squad "" means all.
func (l *Loop) Readiness(squad string, on day.Day) ReadinessReport {
	if on == "" {
		on = l.Today()
	}
	r := ReadinessReport{Schema: "mien.readiness/1", AsOf: on, Squads: []SquadReadiness{}, Subjects: []SubjectReadiness{}}
	for _, name := range l.State.Roster.Squads(on) {
		if squad != "" && name != squad {
			continue
		}
		q := SquadReadiness{Squad: name}
		for _, s := range l.State.Roster.In(name, on) {
			v := l.standing(s, on)
			q.Subjects++
			switch v.Standing {
			case Current:
				q.Current++
			case Ageing:
				q.Ageing++
			default:
				q.Wrong++
			}
			q.Minutes += v.Minutes
			q.ArtistDays += v.ArtistDays
			r.Subjects = append(r.Subjects, v)
		}
		r.Squads = append(r.Squads, q)
	}
	return r
}

func (l *Loop) standing(s *roster.Subject, on day.Day) SubjectReadiness {
	v := SubjectReadiness{Code: s.Code, Squad: s.SquadOn(on), Tier: s.Tier, Standing: Current, Footwear: Current, Missing: []string{}, Old: []string{}}
	for _, c := range l.State.Session.Coverage(s.Code, on, l.Policy()) {
		if !c.Core {
			continue
		}
		switch {
		case c.Attempt == nil:
			v.Missing = append(v.Missing, c.Shot().String())
		case c.Old:
			v.Old = append(v.Old, c.Shot().String())
		}
		if c.Attempt != nil {
			v.OldestDays = max(v.OldestDays, c.Attempt.Captured.DaysUntil(on))
		}
	}
	var shots []policy.Shot
	judge := l.State.Judge(on)
	for _, q := range l.State.Request.Of(s.Code) {
		if !q.Status.Live() {
			continue
		}
		v.Requests++
		shots = policy.Union(shots, q.Shots)
		for _, id := range q.Sightings {
			if g, err := l.State.Request.FindSighting(id.String()); err == nil && g.Kind == "footwear" {
				v.Footwear = Wrong
			}
		}
	}
	v.Minutes = float64(judge.Policy.HalfMinutes(shots)) / 2
	v.ArtistDays = judge.Policy.Days(shots)
	for _, a := range l.StaleAssets(s.Code, on) {
		if a.Standing == derived.Stale {
			v.StaleAssets++
		}
	}
	v.Unjudged = len(l.State.Appearance.Findings(s.Code, appearance.New))
	switch {
	case v.Requests > 0 || v.StaleAssets > 0:
		v.Standing = Wrong
	case len(v.Missing) > 0 || len(v.Old) > 0:
		v.Standing = Ageing
	}
	return v
}

// StaleAssets judges the game assets of a subject on a day; subject "" means everybody's.
func (l *Loop) StaleAssets(subject string, on day.Day) []derived.Verdict {
	if on == "" {
		on = l.Today()
	}
	c := derived.Context{Policy: l.Policy(), Session: l.State.Session, Appearance: l.State.Appearance, Today: on}
	return c.List(l.State.Derived, subject)
}

// Queue returns the open requests by score, or those of the given statuses.
func (l *Loop) Queue(statuses ...request.Status) []request.Ranked {
	return l.Judge().Queue(l.State.Request, statuses...)
}
