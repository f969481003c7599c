package session

import (
	"fmt"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
)

var allStages = []asset.Stage{asset.StageRaw, asset.StageCleaned, asset.StageFitted, asset.StageRetouched}

// slowLikeness is the rule of the likeness said once more, from the bare takes: for each shot go back
// through the sessions until one has an attempt that counts.
func slowLikeness(s *State, choices map[string]int, asOf day.Day, shots []policy.Shot) []string {
	var out []string
	takes := s.Takes("ath-0147")
	usable := func(t *Take) bool {
		if t.Standing != Stored && t.Standing != Accepted {
			return false
		}
		for _, o := range takes {
			same := o.Session == t.Session && o.Shot == t.Shot && o.Number == t.Number
			if same && o.Standing == Rejected && o.Stage.Rank() < t.Stage.Rank() && !cameAgain(takes, o, t) {
				return false
			}
			if same && o.Stage == t.Stage && o.order > t.order && (o.Standing == Stored || o.Standing == Accepted) {
				return false // came in again
			}
		}
		return true
	}
	for _, sh := range shots {
		best := ""
		for back := 0; back < 400 && best == ""; back++ {
			d := asOf.Add(-back)
			for letter := byte('c'); letter >= 'a' && best == ""; letter-- {
				name := Name(d, letter, "road")
				pick, accepted := 0, false
				for n := 3; n >= 1; n-- {
					has, ok := false, false
					for _, t := range takes {
						if t.Session == name && t.Shot == sh && t.Number == n && usable(t) {
							has = true
							ok = ok || t.Standing == Accepted
						}
					}
					chosen := choices[name+sh.String()] == n
					if has && (chosen || choices[name+sh.String()] == 0 || !hasUsable(takes, usable, name, sh, choices[name+sh.String()])) {
						if ok || !accepted {
							pick, accepted = n, ok
						}
					}
				}
				if !accepted {
					continue
				}
				for rank := range allStages {
					for _, t := range takes {
						if t.Session == name && t.Shot == sh && t.Number == pick && t.Stage.Rank() == rank && usable(t) {
							best = fmt.Sprint(sh, " ", name, " ", pick, " ", t.ID.Short(8))
						}
					}
				}
			}
		}
		if best != "" {
			out = append(out, best)
		}
	}
	return out
}

// cameAgain reports whether the files of a rejected take came in again before t was made of them.
func cameAgain(takes []*Take, bad, t *Take) bool {
	for _, o := range takes[:t.order] {
		if o.order > bad.order && o.Session == bad.Session && o.Shot == bad.Shot && o.Number == bad.Number && o.Stage == bad.Stage &&
			(o.Standing == Stored || o.Standing == Accepted) {
			return true
		}
	}
	return false
}

func hasUsable(takes []*Take, usable func(*Take) bool, name string, sh policy.Shot, n int) bool {
	for _, t := range takes {
		if t.Session == name && t.Shot == sh && t.Number == n && usable(t) {
			return true
		}
	}
	return false
}

func TestLikenessAgainstTheRuleSaidOnceMore(t *testing.T) {
	shots := policy.Union([]policy.Shot{head, body})
	rapid.Check(t, func(r *rapid.T) {
		st, log := NewState(), foldtest.New("road", "2026-01-01")
		choices := map[string]int{}
		do := func(d record.Draft, err error) bool {
			if err != nil {
				return false
			}
			if err := st.Apply(log.Add(t, d, nil)); err != nil {
				r.Fatal(err)
			}
			return true
		}
		for step := range rapid.IntRange(1, 20).Draw(r, "steps") {
			all := st.Takes("ath-0147")
			if len(all) == 0 || rapid.IntRange(0, 2).Draw(r, "what") == 0 {
				name := Name(day.Day("2026-01-01").Add(rapid.IntRange(0, 3).Draw(r, "day")), byte('a'+rapid.IntRange(0, 1).Draw(r, "letter")), "road")
				var takes []take
				for n := range rapid.IntRange(1, 3).Draw(r, "takes") {
					takes = append(takes, take{rapid.SampledFrom(shots).Draw(r, "shot"), n + 1, rapid.SampledFrom(allStages).Draw(r, "stage"),
						rapid.SampledFrom([]string{"", "accepted", "held"}).Draw(r, "standing")})
				}
				o, sealed := delivery(name, takes...)
				for i := range o.Takes {
					o.Takes[i].Files[0].Hash = asset.HashBytes([]byte(fmt.Sprint(step, i)))
				}
				do(Intake(st, "m-1", "ath-0147", o, sealed))
				continue
			}
			k := rapid.SampledFrom(all).Draw(r, "take")
			switch ref := k.ID.Short(20); rapid.IntRange(0, 3).Draw(r, "judge") {
			case 0:
				do(Accept(st, "m-1", ref, "fine"))
			case 1:
				do(Reject(st, "m-1", ref, "soft"))
			case 2:
				if do(Choose(st, "m-1", ref, "")) {
					choices[k.Session+k.Shot.String()] = k.Number
				}
			case 3:
				do(Withdraw(st, "m-1", ref, ""))
			}
		}
		asOf := day.Day("2026-01-01").Add(rapid.IntRange(-1, 4).Draw(r, "as of"))
		var got []string
		for _, a := range st.Likeness("ath-0147", asOf) {
			got = append(got, fmt.Sprint(a.Shot, " ", a.Session, " ", a.Number, " ", a.Best().ID.Short(8)))
		}
		if want := slowLikeness(st, choices, asOf, shots); !reflect.DeepEqual(got, want) {
			r.Fatalf("on %s\ngot  %q\nwant %q", asOf, got, want)
		}
	})
}
