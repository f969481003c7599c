package request

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/roster"
	"mien/catalog/session"
)

// office is a desk with a roster, captures and sheets.
type office struct {
	*desk
	ros *roster.State
	ses *session.State
	app *appearance.State
	pol *policy.Policy
}

func newOffice(t *testing.T) *office {
	o := &office{newDesk(t, "studio", "2025-01-05"), roster.NewState(), session.NewState(), appearance.NewState(), policy.Default()}
	o.add("ath-0147", 1)
	return o
}

func (o *office) add(code string, tier int) {
	o.Helper()
	o.keep(roster.Add(o.ros, "m-1", roster.New{Code: code, Squad: "terns", From: "2025-01-01", Tier: tier}))
}

func (o *office) keep(d record.Draft, err error) record.Entry {
	o.Helper()
	e := o.log.Add(o, d, err)
	for _, st := range []interface{ Apply(record.Entry) error }{o.ros, o.ses, o.app, o.st} {
		if err := st.Apply(e); err != nil {
			o.Fatal(err)
		}
	}
	return e
}

func (o *office) at(d day.Day) Context {
	return Context{Policy: o.pol, Roster: o.ros, Session: o.ses, Today: d}
}

// capture takes in one accepted take of each shot and returns their ids.
func (o *office) capture(subject, name string, shots ...policy.Shot) []record.ID {
	o.Helper()
	in := session.IntakeOpen{Session: name, Captured: day.Day(name[:10]), Rig: "rig-1"}
	var sealed session.IntakeSealed
	for _, sh := range shots {
		f := session.File{Hash: asset.HashBytes([]byte(subject + name + sh.String())), Size: 1, Kind: asset.KindMesh}
		in.Takes = append(in.Takes, session.TakeOpen{Shot: sh, Number: 1, Stage: asset.StageRaw, Accepted: true, Files: []session.File{f}})
		sealed.Takes = append(sealed.Takes, session.TakeSealed{Names: []string{"a.glb"}})
	}
	o.log.On(day.Day(name[:10]))
	e := o.keep(session.Intake(o.ses, "m-1", subject, in, sealed))
	var ids []record.ID
	for n := range shots {
		ids = append(ids, session.TakeID(e.ID, n))
	}
	return ids
}

func TestScoreIsTheDocumentedFormula(t *testing.T) {
	o := newOffice(t)
	o.pol, _ = policy.Parse([]byte("schema: 1\nlead-days: 28\nreleases: [{name: league 27, content-lock: 2026-05-28}]\n"))
	o.capture("ath-0147", "2025-03-01a-road", body)
	o.log.On("2026-03-01")
	d, _, err := Raise(o.st, "m-1", Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Finding, policy.Age}, Shots: []policy.Shot{body}, Regions: []string{"forearm-left", "chest"}})
	r, _ := o.st.Find("R-" + o.keep(d, err).ID.Short(8))
	s := o.at("2026-03-01").Judge(r)

	wide, n := 0.0, 0.0
	for _, name := range terms.Regions() {
		if name != "teeth" && name != "tongue" {
			wide += o.pol.Visibility(name)
			n++
		}
	}
	wide /= n
	strength := 1 - (1-0.8*0.85)*(1-0.3*wide)
	age := 0.5 + 0.5*12/18
	lock := 0.5 + 0.5*(1-60.0/120) // 2026-05-28 less 28 days is 2026-04-30, 60 days ahead
	want := math.Round(100*strength*1*age*lock*1000) / 1000
	if s.Score != want || s.LastUseful != "2026-04-30" || s.Minutes != 1 || s.ArtistDays != 3 {
		t.Errorf("got %+v, want score %g", s, want)
	}
	if len(s.Why) != 4 || !strings.Contains(strings.Join(s.Why, "; "), "12 of 18 months") {
		t.Errorf("why: %q", s.Why)
	}
}

func TestMoreReasonsRaiseAndNeverBeyondAHundred(t *testing.T) {
	o := newOffice(t)
	score := func(reasons ...policy.Reason) float64 {
		return o.at("2026-03-01").Judge(&Request{Subject: "ath-0147", Reasons: reasons, Shots: []policy.Shot{head}, Asked: []policy.Shot{head}}).Score
	}
	last := 0.0
	for i := range policy.Reasons() {
		s := score(policy.Reasons()[:i+1]...)
		if s <= last || s > 100 {
			t.Errorf("%d reasons score %g after %g", i+1, s, last)
		}
		last = s
	}
	o.add("ath-0150", 3)
	r := &Request{Subject: "ath-0150", Reasons: []policy.Reason{policy.Age}, Shots: []policy.Shot{head}, Asked: []policy.Shot{head}}
	if s := o.at("2026-03-01").Judge(r).Score; math.Abs(s-0.45*score(policy.Age)) > 0.001 {
		t.Errorf("tier 3 scores %g", s)
	}
}

func TestQueueOrder(t *testing.T) {
	o := newOffice(t)
	for _, code := range []string{"ath-0150", "ath-0151", "ath-0152"} {
		o.add(code, 2)
	}
	refs := map[string]string{}
	for _, code := range []string{"ath-0150", "ath-0151", "ath-0152", "ath-0147"} {
		d, _, err := Raise(o.st, "m-1", Ask{Subject: code, Reasons: []policy.Reason{policy.Age}, Shots: []policy.Shot{head}})
		refs[code] = "R-" + o.keep(d, err).ID.Short(8)
	}
	o.keep(Pin(o.st, "lead-1", refs["ath-0152"], true, "cover"))
	o.keep(Defer(o.st, "lead-1", refs["ath-0151"], "2026-06-01", "2025-06-01", ""))
	codes := func(d day.Day) (out []string) {
		for _, r := range o.at(d).Queue(o.st) {
			out = append(out, r.Subject)
		}
		return out
	}
	if got := codes("2026-03-01"); !reflect.DeepEqual(got, []string{"ath-0152", "ath-0147", "ath-0150"}) {
		t.Errorf("%v: pinned, then by score, then by time", got)
	}
	if got := codes("2026-06-01"); !reflect.DeepEqual(got, []string{"ath-0152", "ath-0147", "ath-0150", "ath-0151"}) {
		t.Errorf("%v: the deferred one is back", got)
	}
}

func TestWhatIsDue(t *testing.T) {
	o := newOffice(t)
	due := func(d day.Day) string {
		var out []string
		for _, a := range o.at(d).Due(o.st, "ath-0147") {
			for _, sh := range a.Shots {
				out = append(out, string(a.Reasons[0])+" "+sh.String())
			}
		}
		return strings.Join(out, ", ")
	}
	if got := due("2025-02-01"); got != "missing-pose body/a-pose, missing-pose head/neutral" {
		t.Errorf("nothing captured: %q", got)
	}
	o.keep(session.AddRig(o.ses, "m-1", "rig-1", "2025-01-01", ""))
	o.capture("ath-0147", "2025-03-01a-road", head)
	body2 := o.capture("ath-0147", "2025-03-01b-road", body)
	if got := due("2025-06-01"); got != "" {
		t.Errorf("all is well: %q", got)
	}
	o.keep(session.NoteRig(o.ses, "m-1", "rig-1", "2025-07-01", "cameras", ""))
	if got := due("2025-08-01"); got != "rig body/a-pose, rig head/neutral" {
		t.Errorf("other cameras: %q", got)
	}
	if got := due("2026-03-01"); got != "age head/neutral, rig body/a-pose" {
		t.Errorf("a year on: %q", got)
	}
	o.log.On("2026-03-01")
	a := o.at("2026-03-01").Due(o.st, "ath-0147")[0]
	d, _, err := Raise(o.st, "m-1", a)
	ref := "R-" + o.keep(d, err).ID.Short(8)
	if got := due("2026-03-01"); got != "rig body/a-pose" {
		t.Errorf("asked for already: %q", got)
	}
	o.keep(Decline(o.st, "lead-1", ref, "2026-03-02", "he leaves the league"))
	if got := due("2026-03-03"); got != "rig body/a-pose" {
		t.Errorf("a declined request is not raised again: %q", got)
	}
	o.keep(session.Reject(o.ses, "m-1", body2[0].Short(8), "moved"))
	if got := due("2026-03-03"); got != "quality body/a-pose" {
		t.Errorf("every take failed: %q", got)
	}
}

func TestShotsThatShowAChange(t *testing.T) {
	o := newOffice(t)
	o.capture("ath-0147", "2025-03-01a-road", head, body, policy.Shot{Part: "head", Pose: "smile"}, policy.Shot{Part: "hand-left", Pose: "neutral"})
	for _, c := range []struct {
		kind   terms.ItemKind
		region string
		want   string
	}{
		{terms.Tattoo, "forearm-left", "body/a-pose"},
		{terms.Tattoo, "neck-front", "body/a-pose head/neutral"},
		{terms.Tattoo, "hand-left", "body/a-pose hand-left/neutral"},
		{terms.Tattoo, "hand-right", "body/a-pose"},
		{terms.Hair, "", "body/a-pose head/neutral"},
		{terms.Footwear, "", "shoe-left/neutral shoe-right/neutral"},
		{terms.Footwear, "foot-left", "shoe-left/neutral"},
		{terms.TeethItem, "teeth", "teeth/neutral"},
	} {
		var got []string
		for _, sh := range o.at("2025-04-01").Showing("ath-0147", c.kind, c.region) {
			got = append(got, sh.String())
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s on %q: %v, want %s", c.kind, c.region, got, c.want)
		}
	}
}

// New ink on the neck, found on a head scan, makes the older body scan wrong and not the head scan.
func TestAFindingAsksForOlderShotsOnly(t *testing.T) {
	o := newOffice(t)
	old := o.capture("ath-0147", "2025-03-01a-road", head, body)
	now := o.capture("ath-0147", "2025-12-01a-road", head)
	c := appearance.ComparisonOpen{Key: asset.HashBytes([]byte("k")), Old: old[0], New: now[0], OldCaptured: "2025-03-01", NewCaptured: "2025-12-01", Shot: head, Verdict: "changed", Engine: "1"}
	o.keep(appearance.Record(o.app, "m-1", "ath-0147", c, appearance.ComparisonSealed{Findings: []appearance.FindingBody{
		{Kind: terms.Tattoo, Action: terms.Added, Region: "neck-front"}, {Kind: terms.Hair, Action: terms.Altered, Region: "scalp"},
		{Kind: terms.TeethItem, Action: terms.Altered, Region: "teeth"}}}))
	all := o.app.Findings("ath-0147")
	for i, want := range []bool{true, true, false} {
		a, ok := o.at("2025-12-02").ForFinding(all[i])
		if ok != want || ok && (!reflect.DeepEqual(a.Shots, []policy.Shot{body}) || a.Takes[0] != old[1]) {
			t.Errorf("%s: %+v, %v", all[i].Region, a, ok)
		}
	}
}

// New ink told by phone, approved, captured, compared, found and met.
func TestFromSightingToMet(t *testing.T) {
	o := newOffice(t)
	old := o.capture("ath-0147", "2025-03-01a-road", head, body)
	o.log.On("2025-09-10")
	e := o.keep(Sight(o.st, "m-1", Report{Subject: "ath-0147", Kind: terms.Tattoo, Region: "forearm-left", Source: terms.FromAgent, Seen: "2025-09-09", Note: "by phone"}))
	v := o.st.Sighting(e.ID)
	d, joined, err := Raise(o.st, "m-1", o.at("2025-09-10").ForSighting(v))
	if joined != nil {
		t.Fatal("joined nothing that was there")
	}
	ref := "R-" + o.keep(d, err).ID.Short(8)
	r, _ := o.st.Find(ref)
	if !reflect.DeepEqual(r.Shots, []policy.Shot{body}) || r.Takes[0] != old[1] || len(o.at("2025-09-10").Queue(o.st)) != 1 {
		t.Fatalf("%+v", r)
	}
	o.keep(Approve(o.st, "lead-1", ref, Rescan, "2025-09-11", ""))
	now := o.capture("ath-0147", "2025-10-03a-road", body)
	got := o.at("2025-10-03").CapturedBy(o.st, "ath-0147", "2025-10-03a-road")
	if len(got) != 1 || got[0].Takes[0] != now[0] {
		t.Fatalf("%+v", got)
	}
	o.keep(MarkCaptured(o.st, "m-1", ref, got[0].Shots, got[0].Takes, "2025-10-03"))
	proofs, missing := o.at("2025-10-04").Proofs(o.st, r, o.app)
	if len(proofs) != 0 || len(missing) != 1 || !strings.Contains(missing[0], "tattoo on forearm-left") {
		t.Errorf("before the finding: %v, %q", proofs, missing)
	}
	c := appearance.ComparisonOpen{Key: asset.HashBytes([]byte("k")), Old: old[1], New: now[0], OldCaptured: "2025-03-01", NewCaptured: "2025-10-03", Shot: body, Verdict: "changed", Engine: "1"}
	o.keep(appearance.Record(o.app, "m-1", "ath-0147", c, appearance.ComparisonSealed{Findings: []appearance.FindingBody{{Kind: terms.Tattoo, Action: terms.Added, Region: "forearm-left", AreaMM2: 4100}}}))
	o.keep(appearance.Accept(o.app, "artist-1", o.app.Findings("ath-0147")[0].Ref(), ""))
	proofs, missing = o.at("2025-10-04").Proofs(o.st, r, o.app)
	if len(missing) != 0 {
		t.Fatal(missing)
	}
	o.keep(Meet(o.st, "m-1", ref, proofs, "2025-10-04", ""))
	if r.Status != Met || len(o.at("2025-10-05").Queue(o.st, Open, Approved, Captured)) != 0 {
		t.Errorf("%s", r.Status)
	}
	whole := foldtest.Merge(o.log)
	again := NewState()
	for _, e := range whole {
		if err := again.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	if !reflect.DeepEqual(again.requests, o.st.requests) {
		t.Error("folding from the start gives another state")
	}
}

// A site that was offline brings in a capture that was made before the request was raised.
func TestALateDeliveryCounts(t *testing.T) {
	o := newOffice(t)
	old := o.capture("ath-0147", "2025-03-01a-road", body)
	o.log.On("2026-10-05")
	e := o.keep(Sight(o.st, "m-1", Report{Subject: "ath-0147", Kind: terms.Tattoo, Region: "forearm-left", Source: terms.FromAgent, Seen: "2026-09-20"}))
	for _, c := range []struct {
		ask  Ask
		want day.Day
	}{
		{Ask{Reasons: []policy.Reason{policy.Sighting}, Sightings: []record.ID{e.ID}}, "2026-09-20"},
		{Ask{Reasons: []policy.Reason{policy.Age}, Takes: old}, "2025-03-02"},
		{Ask{Reasons: []policy.Reason{policy.Age}}, "2026-10-05"},
		{Ask{Reasons: []policy.Reason{policy.MissingPose}}, ""},
		{Ask{Reasons: []policy.Reason{policy.Quality}, Takes: old}, "2026-10-05"},
		{Ask{Reasons: []policy.Reason{policy.Age, policy.Sighting}, Takes: old, Sightings: []record.ID{e.ID}}, "2026-09-20"},
		{Ask{Reasons: []policy.Reason{policy.Finding}, Takes: old}, "2026-10-05"},
	} {
		r := &Request{Subject: "ath-0147", Reasons: c.ask.Reasons, Takes: c.ask.Takes, Sightings: c.ask.Sightings, AtMs: o.log.NowMs}
		if got := o.at("2026-10-06").Since(o.st, r, body); got != c.want {
			t.Errorf("%v: since %q, want %q", c.ask.Reasons, got, c.want)
		}
	}
	d, _, err := Raise(o.st, "m-1", o.at("2026-10-05").ForSighting(o.st.Sighting(e.ID)))
	o.keep(d, err)
	if got := o.at("2026-10-06").CapturedBy(o.st, "ath-0147", "2025-03-01a-road"); len(got) != 0 {
		t.Errorf("an older session counts: %+v", got)
	}
	o.capture("ath-0147", "2026-10-03a-road", body)
	if got := o.at("2026-10-06").CapturedBy(o.st, "ath-0147", "2026-10-03a-road"); len(got) != 1 {
		t.Errorf("the late delivery does not count: %+v", got)
	}
}
