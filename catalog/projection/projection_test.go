package projection

import (
	"encoding/json"
	"fmt"
	"math/rand"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/derived"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/catalog/roster"
	"mien/catalog/session"
	"mien/catalog/visit"
)

var (
	head = policy.Shot{Part: "head", Pose: "neutral"}
	body = policy.Shot{Part: "body", Pose: "a-pose"}
)

// site is one copy of a catalog: its own records and those that have reached it.
type site struct {
	testing.TB
	log   *foldtest.Log
	came  []record.Entry
	state *State
}

func newSite(t testing.TB, name string, d day.Day) *site {
	return &site{t, foldtest.New(name, d), nil, New()}
}

func (s *site) do(d record.Draft, err error) record.Entry {
	s.Helper()
	e := s.log.Add(s, d, err)
	if err := s.state.Apply(e); err != nil {
		s.Fatal(err)
	}
	return e
}

// try records a command unless it is refused.
func (s *site) try(d record.Draft, err error) {
	s.Helper()
	if err == nil {
		s.do(d, nil)
	}
}

// meet gives both sites all records of the other.
func meet(a, b *site) {
	all := foldtest.Merge(a.log, b.log)
	for _, s := range []*site{a, b} {
		s.state, _ = Fold(all)
		now := max(a.log.NowMs, b.log.NowMs)
		s.log.NowMs = now
	}
}

func (s *site) intake(subject string, d day.Day, name string, accepted bool, shots ...policy.Shot) []record.ID {
	s.Helper()
	in := session.IntakeOpen{Session: session.Name(d, 'a', name), Captured: d, Rig: "rig-1"}
	var sealed session.IntakeSealed
	for _, sh := range shots {
		f := session.File{Hash: asset.HashBytes([]byte(subject + in.Session + sh.String())), Size: 1, Kind: asset.KindMesh}
		in.Takes = append(in.Takes, session.TakeOpen{Shot: sh, Number: 1, Stage: asset.StageRaw, Accepted: accepted, Files: []session.File{f}})
		sealed.Takes = append(sealed.Takes, session.TakeSealed{Names: []string{"a.glb"}})
	}
	draft, err := session.Intake(s.state.Session, "m-1", subject, in, sealed)
	if err != nil {
		return nil
	}
	e := s.do(draft, nil)
	var ids []record.ID
	for n := range shots {
		ids = append(ids, session.TakeID(e.ID, n))
	}
	return ids
}

// summary says all of a state that people can see.
func summary(s *State, today day.Day) string {
	var b strings.Builder
	for _, v := range s.Roster.List() {
		fmt.Fprintf(&b, "%+v\n", struct {
			A, B, C any
			D, E    bool
		}{v.Code, v.Name, v.Squads, v.Erased, v.NoKey})
		for _, a := range s.Session.Likeness(v.Code, today) {
			fmt.Fprintln(&b, a.Shot, a.Session, a.Best().Ref(), a.Best().Names)
		}
		for _, it := range s.Appearance.Items(v.Code) {
			fmt.Fprintf(&b, "%+v\n", it)
		}
	}
	for _, f := range s.Appearance.Findings("") {
		fmt.Fprintln(&b, f.Ref(), f.Region, f.Standing, f.Contested)
	}
	c := s.Judge(today)
	for _, r := range s.Request.All() {
		fmt.Fprintln(&b, r.Ref(), r.Status, r.Reasons, r.Shots, r.Aliases, r.Contests(), c.Judge(r).Score, r.Note)
	}
	for _, v := range s.Visit.List() {
		fmt.Fprintln(&b, v.Ref(), v.Plan, v.Contested, v.Log)
	}
	for _, v := range (derived.Context{Policy: s.Policy.Policy, Session: s.Session, Appearance: s.Appearance, Today: today}).List(s.Derived, "") {
		fmt.Fprintln(&b, v.Asset.Name, v.Standing, len(v.Causes))
	}
	return b.String()
}

// Two sites work apart at random and meet now and then; whatever order the records arrive in, both fold
// to the same state, and nothing is refused that a site's own commands had allowed.
func TestArrivalOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		a, b := newSite(t, "road", "2025-01-05"), newSite(t, "studio", "2025-01-05")
		codes := []string{"ath-1", "ath-2"}
		for _, code := range codes {
			a.do(roster.Add(a.state.Roster, "m-1", roster.New{Code: code, Name: "N " + code, Squad: "terns", From: "2025-01-01"}))
		}
		meet(a, b)
		today := day.Day("2025-02-01")
		for step := range rapid.IntRange(1, 25).Draw(r, "steps") {
			s := rapid.SampledFrom([]*site{a, b}).Draw(r, "site")
			code := rapid.SampledFrom(codes).Draw(r, "subject")
			today = today.Add(rapid.IntRange(0, 3).Draw(r, "days"))
			s.log.On(today)
			act(r, s, code, today, step)
			if rapid.IntRange(0, 5).Draw(r, "meet") == 0 {
				meet(a, b)
			}
		}
		all := foldtest.Merge(a.log, b.log)
		want, problems := Fold(all)
		for _, p := range problems {
			if !strings.Contains(p.Why, "is ") { // a decision that another site's fact has overtaken
				r.Fatalf("problem: %v", p)
			}
		}
		shuffled := append([]record.Entry(nil), all...)
		rand.New(rand.NewSource(int64(rapid.IntRange(0, 1000).Draw(r, "shuffle")))).Shuffle(len(shuffled), func(i, j int) {
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		})
		foldtest.Sort(shuffled)
		got, _ := Fold(shuffled)
		if summary(got, today) != summary(want, today) {
			r.Fatalf("got\n%s\nwant\n%s", summary(got, today), summary(want, today))
		}
		one := New()
		for _, e := range all {
			one.Apply(e)
		}
		if summary(one, today) != summary(want, today) {
			r.Fatal("record by record gives another state than all at once")
		}
	})
}

// act does one thing at random.
func act(r *rapid.T, s *site, code string, today day.Day, step int) {
	st := s.state
	switch rapid.IntRange(0, 8).Draw(r, "act") {
	case 0:
		s.intake(code, today, s.log.Site, true, head, body)
	case 1:
		d, _, err := request.Raise(st.Request, "m-1", request.Ask{Subject: code, Reasons: []policy.Reason{policy.Age},
			Shots: rapid.SampledFrom([][]policy.Shot{{head}, {body}, {head, body}}).Draw(r, "shots"), Note: fmt.Sprint("n", step)})
		s.try(d, err)
	case 2, 3, 4:
		all := st.Request.All()
		if len(all) == 0 {
			return
		}
		ref := "R-" + rapid.SampledFrom(all).Draw(r, "request").ID.Short(12)
		switch rapid.IntRange(0, 6).Draw(r, "decide") {
		case 0, 1:
			s.try(request.Approve(st.Request, "lead-1", ref, request.Rescan, today, ""))
		case 2:
			s.try(request.Decline(st.Request, "lead-1", ref, today, "no"))
		case 3:
			s.try(request.Defer(st.Request, "lead-1", ref, today.Add(9), today, ""))
		case 4:
			s.try(request.MarkCaptured(st.Request, "op-1", ref, []policy.Shot{head}, nil, today))
		case 5:
			s.try(request.Reopen(st.Request, "lead-1", ref, today, ""))
		case 6:
			s.try(request.Meet(st.Request, "m-1", ref, []request.Proof{{Reason: policy.Age, What: request.ProofCaptured, Take: record.ID{1}}}, today, ""))
		}
	case 5:
		takes := st.Session.Takes(code)
		if len(takes) == 0 {
			return
		}
		ref := "T-" + rapid.SampledFrom(takes).Draw(r, "take").ID.Short(12)
		switch rapid.IntRange(0, 2).Draw(r, "judge") {
		case 0:
			s.try(session.Reject(st.Session, "m-1", ref, "soft"))
		case 1:
			s.try(session.Accept(st.Session, "m-1", ref, "fine"))
		case 2:
			s.try(session.Choose(st.Session, "m-1", ref, ""))
		}
	case 6:
		s.try(appearance.Add(st.Appearance, "m-1", code, appearance.Entry{Kind: terms.Tattoo, Region: "chest", From: today}))
	case 7:
		g := st.Session.Chosen(code)
		if len(g) < 2 {
			return
		}
		o, n := g[0].Best(), g[len(g)-1].Best()
		c := appearance.ComparisonOpen{Key: asset.HashBytes(append(o.ID[:], n.ID[:]...)), Old: o.ID, New: n.ID, OldCaptured: o.Captured, NewCaptured: n.Captured, Shot: n.Shot, Verdict: "changed", Engine: "1"}
		s.try(appearance.Record(st.Appearance, "m-1", code, c, appearance.ComparisonSealed{Findings: []appearance.FindingBody{{Kind: terms.Tattoo, Action: terms.Added, Region: "forearm-left"}}}))
	case 8:
		for _, f := range st.Appearance.Findings(code) {
			if rapid.Bool().Draw(r, "so") {
				s.try(appearance.Accept(st.Appearance, "artist-1", f.Ref(), ""))
			} else {
				s.try(appearance.Dismiss(st.Appearance, "artist-1", f.Ref(), "light"))
			}
		}
	}
}

func TestADecisionWaitsForWhatItDecides(t *testing.T) {
	ahead := newSite(t, "road", "2027-01-01") // a clock a year ahead
	ahead.do(roster.Add(ahead.state.Roster, "m-1", roster.New{Code: "ath-1"}))
	d, _, err := request.Raise(ahead.state.Request, "m-1", request.Ask{Subject: "ath-1", Reasons: []policy.Reason{policy.Age}, Shots: []policy.Shot{head}})
	raise := ahead.do(d, err)
	right := newSite(t, "studio", "2026-01-05")
	right.state, _ = Fold(ahead.log.Entries)
	right.do(request.Approve(right.state.Request, "lead-1", "R-"+raise.ID.Short(8), request.Rescan, "2026-01-05", ""))
	st, problems := Fold(foldtest.Merge(right.log, ahead.log))
	r, err := st.Request.Find("R-" + raise.ID.Short(8))
	if err != nil || r.Status != request.Approved || len(problems) != 0 {
		t.Errorf("%v, %v", r, problems)
	}
}

func TestErasedWithAndWithoutTheKeyIsTheSame(t *testing.T) {
	s := newSite(t, "studio", "2025-01-05")
	for _, code := range []string{"ath-1", "ath-2"} {
		s.do(roster.Add(s.state.Roster, "m-1", roster.New{Code: code, Name: "Ila Morn", Squad: "terns", From: "2025-01-01"}))
		s.intake(code, "2025-02-01", "road", true, head)
		s.do(appearance.Add(s.state.Appearance, "m-1", code, appearance.Entry{Kind: terms.Tattoo, Region: "chest", Note: "a wave"}))
	}
	s.do(roster.Erase(s.state.Roster, "p-1", "ath-1"))
	with, _ := Fold(s.log.Entries)
	s.log.LoseKey("ath-1")
	without, problems := Fold(s.log.Entries)
	if summary(with, "2025-03-01") != summary(without, "2025-03-01") || len(problems) != 0 {
		t.Errorf("with the key\n%s\nwithout\n%s%v", summary(with, "2025-03-01"), summary(without, "2025-03-01"), problems)
	}
	text := summary(with, "2025-03-01")
	if strings.Count(text, "Ila Morn") != 1 || strings.Count(text, "a wave") != 1 {
		t.Errorf("the other subject is whole, the erased one gone:\n%s", text)
	}
}

func TestAnUnknownKindIsNamedAndLetThrough(t *testing.T) {
	s := newSite(t, "studio", "2025-01-05")
	s.do(roster.Add(s.state.Roster, "m-1", roster.New{Code: "ath-1"}))
	for _, kind := range []record.Kind{"weather.note", "subject.nickname", "request.praise", "catalog.create"} {
		s.log.Add(t, record.Draft{Kind: kind, Subject: "ath-1", Open: map[string]int{"x": 1}}, nil)
	}
	s.log.Add(t, record.Draft{Kind: "subject.set", Subject: "ath-1", Open: map[string]any{"tier": "high"}}, nil)
	st, problems := Fold(s.log.Entries)
	if len(problems) != 2 || problems[0].Kind != "weather.note" || problems[1].Kind != "subject.set" || st.Records != 6 {
		t.Errorf("%v, %d records", problems, st.Records)
	}
	if twice, _ := Fold(append(append([]record.Entry(nil), s.log.Entries...), s.log.Entries...)); twice.Records != 6 {
		t.Errorf("the same record counted twice: %d", twice.Records)
	}
}

func TestUntilCutsByDate(t *testing.T) {
	s := newSite(t, "studio", "2025-01-05")
	s.do(roster.Add(s.state.Roster, "m-1", roster.New{Code: "ath-1"}))
	s.log.On("2025-02-05")
	s.do(roster.Add(s.state.Roster, "m-1", roster.New{Code: "ath-2"}))
	if got := Until(s.log.Entries, "2025-02-04"); len(got) != 1 {
		t.Errorf("%d records", len(got))
	}
}

// league returns the records of a league: subjects with sessions, comparisons, findings, requests.
func league(t testing.TB, subjects, sessions int) []record.Entry {
	s := newSite(t, "studio", "2023-01-05")
	d := day.Day("2023-02-01")
	e := s.do(visit.Add(s.state.Visit, "lead-1", visit.AddOpen{Date: "2023-03-01", Squads: []string{"terns"}, Minutes: 240}, visit.AddSealed{}))
	_ = e
	for i := range subjects {
		code := fmt.Sprintf("ath-%04d", i)
		s.do(roster.Add(s.state.Roster, "m-1", roster.New{Code: code, Name: "Somebody", Squad: "terns", From: "2023-01-01"}))
		var old []record.ID
		for k := range sessions {
			at := d.Add(200*k + i%30)
			now := s.intake(code, at, "road", true, head, body)
			if k > 0 {
				o, n := s.state.Session.Take(old[0]), s.state.Session.Take(now[0])
				c := appearance.ComparisonOpen{Key: asset.HashBytes(append(o.ID[:], n.ID[:]...)), Old: o.ID, New: n.ID, OldCaptured: o.Captured, NewCaptured: n.Captured, Shot: head, Verdict: "changed", Engine: "1"}
				s.do(appearance.Record(s.state.Appearance, "m-1", code, c, appearance.ComparisonSealed{Findings: []appearance.FindingBody{{Kind: terms.Tattoo, Action: terms.Added, Region: "neck-front"}}}))
				id := appearance.FindingID(c, 0)
				s.do(record.Draft{Kind: appearance.KindAccept, Subject: code, By: "artist-1", Open: appearance.FindingOpen{Finding: id}}, nil)
				raise, _, err := request.Raise(s.state.Request, "m-1", request.Ask{Subject: code, Reasons: []policy.Reason{policy.Finding}, Shots: []policy.Shot{body}, Regions: []string{"neck-front"}, Findings: []record.ID{id}})
				s.do(raise, err)
			}
			old = now
		}
	}
	return s.log.Entries
}

func BenchmarkFold(b *testing.B) {
	entries := league(b, 450, 12)
	b.ReportMetric(float64(len(entries)), "records")
	for b.Loop() {
		Fold(entries)
	}
}

func BenchmarkQueue(b *testing.B) {
	st, _ := Fold(league(b, 450, 4))
	c := st.Judge("2026-01-01")
	b.ReportMetric(float64(len(c.Queue(st.Request))), "requests")
	for b.Loop() {
		c.Queue(st.Request)
	}
}

func BenchmarkDue(b *testing.B) {
	st, _ := Fold(league(b, 450, 4))
	c := st.Judge("2026-01-01")
	for b.Loop() {
		for _, v := range st.Roster.List() {
			c.Due(st.Request, v.Code)
		}
	}
}

func TestFoldDoesNotChangeTheRecords(t *testing.T) {
	entries := league(t, 3, 3)
	before, _ := json.Marshal(entries)
	Fold(entries)
	after, _ := json.Marshal(entries)
	if !reflect.DeepEqual(before, after) {
		t.Error("the records were changed")
	}
}
