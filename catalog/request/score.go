package request

import (
	"fmt"
	"math"
	"sort"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/roster"
	"mien/catalog/session"
)

// Context is what a request is judged against.
type Context struct {
	Policy  *policy.Policy
	Roster  *roster.State
	Session *session.State
	Today   day.Day
}

// Score says how urgent a request is, 0 to 100, and why.
//
//	score = 100 * strength * tier * age * lock
//	strength = 1 - product over reasons of (1 - weight * visibility)
//	age      = 0.5 + 0.5 * min(1, months since capture / months after which it is old)
//	lock     = 0.5 + 0.5 * max(0, 1 - days to the last useful capture day / 120)
//
// visibility is that of the most visible region named, for sightings and findings; for other reasons,
// and where no region is named, the mean over the regions that the shots show. A shot that the likeness
// does not have counts as old. Without a release that can still be reached, lock is 0.5.
// The score is rounded to three decimals; the factors are not.
type Score struct {
	Score      float64
	Strength   float64
	Tier       float64
	Visibility float64
	Age        float64
	Lock       float64
	Release    string  // the release a capture would help, "" for none
	LastUseful day.Day // last capture day that helps it
	Minutes    float64 // rig minutes of what is left to capture
	ArtistDays float64
	Why        []string // the factors as plain sentences
}

// lockWindowDays is how long before the last useful capture day a request begins to press.
const lockWindowDays = 120

// Judge scores a request.
func (c Context) Judge(r *Request) Score {
	p := c.Policy
	shots := r.Shots
	if len(shots) == 0 {
		shots = r.Asked
	}
	s := Score{Tier: p.Tier(len(p.Tiers)), Age: 1, Lock: 0.5, Minutes: float64(p.HalfMinutes(r.Shots)) / 2, ArtistDays: p.Days(shots)}
	squad, tier := "", len(p.Tiers)
	if v, err := c.Roster.Get(r.Subject); err == nil {
		squad, tier = v.SquadOn(c.Today), v.Tier
		s.Tier = p.Tier(tier)
	}
	wide := c.meanVisibility(shots)
	s.Visibility = wide
	if len(r.Regions) > 0 {
		s.Visibility = 0
		for _, name := range r.Regions {
			s.Visibility = max(s.Visibility, p.Visibility(name))
		}
	}
	left := 1.0
	for _, reason := range r.Reasons {
		v := wide
		if reason == policy.Sighting || reason == policy.Finding {
			v = s.Visibility
		}
		left *= 1 - float64(p.Weight(reason)*v)
	}
	s.Strength = 1 - left
	var oldest string
	s.Age, oldest = c.age(r.Subject, shots)
	if rel, last, ok := p.NextLock(squad, c.Today); ok {
		days := c.Today.DaysUntil(last)
		s.Release, s.LastUseful = rel.Name, last
		s.Lock = 0.5 + float64(0.5*max(0, 1-float64(days)/lockWindowDays))
		s.Why = append(s.Why, fmt.Sprintf("%d days left to capture for %q: lock %.2f", days, rel.Name, s.Lock))
	} else {
		s.Why = append(s.Why, fmt.Sprintf("no content lock ahead: lock %.2f", s.Lock))
	}
	s.Score = math.Round(100*s.Strength*s.Tier*s.Age*s.Lock*1000) / 1000
	names := ""
	for i, reason := range r.Reasons {
		if i > 0 {
			names += ", "
		}
		names += string(reason)
	}
	s.Why = append([]string{
		fmt.Sprintf("%s at visibility %.2f: strength %.2f", names, s.Visibility, s.Strength),
		fmt.Sprintf("tier %d: %.2f", tier, s.Tier),
		fmt.Sprintf("%s: age %.2f", oldest, s.Age),
	}, s.Why...)
	return s
}

// age returns the age factor of shots and what it comes from.
func (c Context) age(subject string, shots []policy.Shot) (float64, string) {
	likeness := c.Session.Likeness(subject, c.Today)
	worst, why := 0.0, "nothing to capture"
	for _, sh := range shots {
		ratio, said := 1.0, fmt.Sprintf("%s was never captured", sh)
		for _, a := range likeness {
			if a.Shot == sh {
				months := a.Captured.MonthsUntil(c.Today)
				limit := c.Policy.OldAfterMonths(sh.Part)
				ratio = min(1, float64(months)/float64(limit))
				said = fmt.Sprintf("%s is %d of %d months old", sh, months, limit)
			}
		}
		if ratio > worst || why == "nothing to capture" {
			worst, why = ratio, said
		}
	}
	return 0.5 + float64(0.5*worst), why
}

// meanVisibility returns the mean visibility of all regions that shots show.
func (c Context) meanVisibility(shots []policy.Shot) float64 {
	sum, n := 0.0, 0
	for _, name := range terms.Regions() {
		for _, sh := range shots {
			if c.Policy.Shows(sh.Part, name) {
				sum += c.Policy.Visibility(name)
				n++
				break
			}
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// Ranked is a request with its score.
type Ranked struct {
	*Request
	Score
}

// Queue returns the requests that stand so on today, pinned ones first, then by falling score, then by
// the time they were raised, then by id. Without statuses it lists the open ones.
func (c Context) Queue(s *State, statuses ...Status) []Ranked {
	if len(statuses) == 0 {
		statuses = []Status{Open}
	}
	var out []Ranked
	for _, r := range s.order {
		for _, st := range statuses {
			if r.On(c.Today) == st {
				out = append(out, Ranked{r, c.Judge(r)})
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		switch {
		case a.Pinned != b.Pinned:
			return a.Pinned
		case a.Score.Score != b.Score.Score:
			return a.Score.Score > b.Score.Score
		case a.AtMs != b.AtMs:
			return a.AtMs < b.AtMs
		}
		return a.ID.String() < b.ID.String()
	})
	return out
}
