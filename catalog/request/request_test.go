package request

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
)

var (
	head  = policy.Shot{Part: "head", Pose: "neutral"}
	body  = policy.Shot{Part: "body", Pose: "a-pose"}
	teeth = policy.Shot{Part: "teeth", Pose: "neutral"}
)

const today = day.Day("2026-03-01")

// desk is one site: its own records and what it knows.
type desk struct {
	*testing.T
	st  *State
	log *foldtest.Log
}

func newDesk(t *testing.T, site string, d day.Day) *desk {
	return &desk{t, NewState(), foldtest.New(site, d)}
}

func (k *desk) do(d record.Draft, err error) record.Entry {
	k.Helper()
	e := k.log.Add(k, d, err)
	if err := k.st.Apply(e); err != nil {
		k.Fatal(err)
	}
	return e
}

func (k *desk) raise(shots ...policy.Shot) string {
	k.Helper()
	d, _, err := Raise(k.st, "m-1", Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Age}, Shots: shots})
	return "R-" + k.do(d, err).ID.Short(8)
}

// knows gives the desk what another one has recorded.
func (k *desk) knows(entries []record.Entry) {
	k.Helper()
	for _, e := range entries {
		if err := k.st.Apply(e); err != nil {
			k.Fatal(err)
		}
	}
}

func folded(t *testing.T, logs ...*foldtest.Log) *State {
	t.Helper()
	st := NewState()
	for _, e := range foldtest.Merge(logs...) {
		if err := st.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	return st
}

// commands is every step of a request's life, as a desk takes it.
func commands(st *State, ref string) map[record.Kind]func() (record.Draft, error) {
	visit := record.IDOf([]byte("visit"))
	take := record.IDOf([]byte("take"))
	return map[record.Kind]func() (record.Draft, error){
		KindApprove:  func() (record.Draft, error) { return Approve(st, "lead-1", ref, Rescan, today, "") },
		KindDecline:  func() (record.Draft, error) { return Decline(st, "lead-1", ref, today, "other light") },
		KindDefer:    func() (record.Draft, error) { return Defer(st, "lead-1", ref, "2026-06-01", today, "") },
		KindWithdraw: func() (record.Draft, error) { return Withdraw(st, "lead-1", ref, today, "twice") },
		KindReopen:   func() (record.Draft, error) { return Reopen(st, "lead-1", ref, today, "") },
		KindPlan:     func() (record.Draft, error) { return Plan(st, "lead-1", ref, visit, today) },
		KindUnplan:   func() (record.Draft, error) { return Unplan(st, "lead-1", ref, today, "") },
		KindReturn:   func() (record.Draft, error) { return Return(st, "lead-1", ref, nil, today, "too soft") },
		KindCaptured: func() (record.Draft, error) {
			return MarkCaptured(st, "op-1", ref, []policy.Shot{head}, []record.ID{take}, today)
		},
		KindMet: func() (record.Draft, error) {
			return Meet(st, "m-1", ref, []Proof{{Reason: policy.Age, What: ProofCaptured, Take: take}}, today, "")
		},
	}
}

// path is how a request gets into each status.
var path = map[Status][]record.Kind{
	Open: {}, Approved: {KindApprove}, Declined: {KindDecline}, Deferred: {KindDefer}, Planned: {KindApprove, KindPlan},
	Captured: {KindCaptured}, Met: {KindMet}, Withdrawn: {KindWithdraw},
}

// leads is the design's table, written out once more.
var leads = map[Status]map[record.Kind]Status{
	Open: {KindApprove: Approved, KindDecline: Declined, KindDefer: Deferred, KindWithdraw: Withdrawn, KindCaptured: Captured, KindMet: Met},
	Approved: {KindDecline: Declined, KindDefer: Deferred, KindWithdraw: Withdrawn, KindPlan: Planned, KindCaptured: Captured,
		KindMet: Met},
	Deferred: {KindApprove: Approved, KindDecline: Declined, KindDefer: Deferred, KindWithdraw: Withdrawn, KindReopen: Open,
		KindCaptured: Captured, KindMet: Met},
	Planned:   {KindDecline: Declined, KindDefer: Deferred, KindWithdraw: Withdrawn, KindUnplan: Approved, KindCaptured: Captured, KindMet: Met},
	Captured:  {KindReturn: Approved, KindMet: Met},
	Declined:  {KindReopen: Open},
	Withdrawn: {KindReopen: Open},
	Met:       {KindReopen: Open},
}

func TestTableOfStates(t *testing.T) {
	for _, from := range Statuses() {
		for kind := range steps {
			k := newDesk(t, "studio", today)
			ref := k.raise(head)
			for _, step := range path[from] {
				k.do(commands(k.st, ref)[step]())
			}
			r, err := k.st.Find(ref)
			if err != nil || r.Status != from {
				t.Fatalf("%s: %s, %v", from, r.Status, err)
			}
			d, err := commands(k.st, ref)[kind]()
			want, ok := leads[from][kind]
			if !ok {
				var c *fault.ConflictError
				var in *fault.InvalidError
				if !errors.As(err, &c) && !errors.As(err, &in) {
					t.Errorf("%s from %s: %v, want a refusal", kind, from, err)
				}
				continue
			}
			if k.do(d, err); r.Status != want {
				t.Errorf("%s from %s leads to %s, want %s", kind, from, r.Status, want)
			}
		}
	}
}

func TestRefusalSaysWhoAndWhen(t *testing.T) {
	k := newDesk(t, "studio", "2026-03-02")
	ref := k.raise(head)
	k.do(Decline(k.st, "lead-2", ref, "2026-03-02", "same ink, other light"))
	_, err := Approve(k.st, "lead-1", ref, Rescan, "2026-03-03", "")
	r, _ := k.st.Find(ref)
	want := fmt.Sprintf(`request %s: already declined by lead-2 on 2026-03-02: "same ink, other light"; allowed: from open, approved, deferred`, r.Ref())
	if err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
}

func TestDeferredComesBackByItself(t *testing.T) {
	k := newDesk(t, "studio", today)
	ref := k.raise(head)
	k.do(Defer(k.st, "lead-1", ref, "2026-06-01", today, "off season"))
	r, _ := k.st.Find(ref)
	for d, want := range map[day.Day]Status{"2026-05-31": Deferred, "2026-06-01": Open} {
		if r.On(d) != want {
			t.Errorf("on %s %s", d, r.On(d))
		}
	}
	if _, err := Defer(k.st, "lead-1", ref, "2026-03-01", today, ""); err == nil {
		t.Error("deferred into the past")
	}
}

func TestPartlyCapturedShrinks(t *testing.T) {
	k := newDesk(t, "studio", today)
	ref := k.raise(head, body)
	k.do(Approve(k.st, "lead-1", ref, Rescan, today, ""))
	k.do(MarkCaptured(k.st, "op-1", ref, []policy.Shot{head, teeth}, []record.ID{{1}}, today))
	r, _ := k.st.Find(ref)
	if r.Status != Approved || !reflect.DeepEqual(r.Shots, []policy.Shot{body}) || len(r.Asked) != 2 {
		t.Errorf("%s, left %v", r.Status, r.Shots)
	}
	if _, err := MarkCaptured(k.st, "op-1", ref, []policy.Shot{head}, nil, today); err == nil {
		t.Error("the same shot was captured twice for one request")
	}
	k.do(MarkCaptured(k.st, "op-1", ref, []policy.Shot{body}, []record.ID{{2}}, today))
	if r.Status != Captured || len(r.Got) != 2 {
		t.Errorf("%s, got %v", r.Status, r.Got)
	}
	k.do(Return(k.st, "lead-1", ref, []policy.Shot{body}, today, "cloth over the arm"))
	if r.Status != Approved || !reflect.DeepEqual(r.Shots, []policy.Shot{body}) {
		t.Errorf("returned: %s, left %v", r.Status, r.Shots)
	}
}

func TestASecondRequestJoinsTheFirst(t *testing.T) {
	k := newDesk(t, "studio", today)
	first := k.raise(head, body)
	d, joined, err := Raise(k.st, "artist-1", Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Quality}, Shots: []policy.Shot{head}, Regions: []string{"nose"}})
	if joined == nil || d.Kind != KindJoin {
		t.Fatalf("%v, %v", joined, err)
	}
	k.do(d, err)
	r, _ := k.st.Find(first)
	if !reflect.DeepEqual(r.Reasons, []policy.Reason{policy.Quality, policy.Age}) || r.Regions[0] != "nose" || len(k.st.All()) != 1 {
		t.Errorf("%+v", r)
	}
}

func TestTwoSitesRaiseTheSame(t *testing.T) {
	a, b := newDesk(t, "road", today), newDesk(t, "studio", today.Add(1))
	first, second := a.raise(head), b.raise(head, body)
	b.do(Approve(b.st, "lead-1", second, Rescan, today, ""))
	st := folded(t, b.log, a.log)
	r, err := st.Find(first)
	alias, err2 := st.Find(second)
	if err != nil || err2 != nil || r != alias || len(st.All()) != 1 {
		t.Fatalf("%v, %v: %d requests", err, err2, len(st.All()))
	}
	if r.Status != Approved || len(r.Shots) != 2 || len(r.Aliases) != 1 {
		t.Errorf("%+v", r)
	}
}

func TestAnApprovedScopeDoesNotGrow(t *testing.T) {
	k := newDesk(t, "studio", today)
	first := k.raise(head)
	k.do(Approve(k.st, "lead-1", first, Rescan, today, ""))
	second := k.raise(head, body)
	r, _ := k.st.Find(first)
	o, _ := k.st.Find(second)
	if !reflect.DeepEqual(r.Shots, []policy.Shot{head}) || o == r || !reflect.DeepEqual(o.Shots, []policy.Shot{body}) || o.Status != Open {
		t.Errorf("first asks for %v, second for %v", r.Shots, o.Shots)
	}
	if _, err := Withdraw(k.st, "m-1", second, today, "no"); err != nil {
		t.Error(err)
	}
}

func TestContestedDecisions(t *testing.T) {
	start := newDesk(t, "studio", today)
	ref := start.raise(head)
	begin := start.log.Entries
	site := func(name string, d day.Day) *desk {
		k := newDesk(t, name, d)
		k.knows(begin)
		return k
	}
	t.Run("the later holds and is shown", func(t *testing.T) {
		for _, order := range [][2]record.Kind{{KindApprove, KindDecline}, {KindDecline, KindApprove}} {
			a, b := site("road", "2026-03-02"), site("home", "2026-03-03")
			a.do(commands(a.st, ref)[order[0]]())
			b.do(commands(b.st, ref)[order[1]]())
			st := folded(t, b.log, start.log, a.log)
			r, _ := st.Find(ref)
			if r.Status != steps[order[1]].to || len(r.Contests()) != 1 {
				t.Errorf("%v: %s, %d contests", order, r.Status, len(r.Contests()))
			}
		}
	})
	t.Run("who has seen the other is not contested", func(t *testing.T) {
		a := site("road", "2026-03-02")
		a.do(commands(a.st, ref)[KindApprove]())
		b := site("home", "2026-03-03")
		b.knows(a.log.Entries)
		b.do(commands(b.st, ref)[KindDecline]())
		r, _ := folded(t, b.log, start.log, a.log).Find(ref)
		if r.Status != Declined || len(r.Contests()) != 0 {
			t.Errorf("%s, %d contests", r.Status, len(r.Contests()))
		}
	})
	t.Run("a fact beats a decision on either side of it", func(t *testing.T) {
		for _, days := range [][2]day.Day{{"2026-03-02", "2026-03-03"}, {"2026-03-03", "2026-03-02"}} {
			a, b := site("road", days[0]), site("home", days[1])
			a.do(commands(a.st, ref)[KindCaptured]())
			b.do(commands(b.st, ref)[KindDecline]())
			r, _ := folded(t, b.log, start.log, a.log).Find(ref)
			if r.Status != Captured || len(r.Contests()) != 1 {
				t.Errorf("%v: %s, %d contests", days, r.Status, len(r.Contests()))
			}
		}
	})
	t.Run("the same decision twice is no contest", func(t *testing.T) {
		a, b := site("road", "2026-03-02"), site("home", "2026-03-03")
		a.do(commands(a.st, ref)[KindApprove]())
		b.do(commands(b.st, ref)[KindApprove]())
		r, _ := folded(t, b.log, start.log, a.log).Find(ref)
		if r.Status != Approved || len(r.Contests()) != 0 {
			t.Errorf("%s, %d contests", r.Status, len(r.Contests()))
		}
	})
	t.Run("a decision that saw both settles it", func(t *testing.T) {
		a, b := site("road", "2026-03-02"), site("home", "2026-03-03")
		a.do(commands(a.st, ref)[KindApprove]())
		b.do(commands(b.st, ref)[KindDecline]())
		c := newDesk(t, "third", "2026-03-04")
		c.knows(foldtest.Merge(start.log, a.log, b.log))
		c.do(Reopen(c.st, "lead-1", ref, "2026-03-04", "talked it over"))
		r, _ := folded(t, a.log, b.log, c.log, start.log).Find(ref)
		if r.Status != Open || len(r.Contests()) != 0 {
			t.Errorf("%s, %d contests", r.Status, len(r.Contests()))
		}
	})
}

func TestMetNeedsAProofForEachReason(t *testing.T) {
	k := newDesk(t, "studio", today)
	e := k.do(Sight(k.st, "m-1", Report{Subject: "ath-0147", Kind: terms.Tattoo, Region: "forearm-left", Source: terms.FromAgent, Seen: "2026-02-20"}))
	d, _, err := Raise(k.st, "m-1", Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Sighting, policy.Age}, Shots: []policy.Shot{body}, Sightings: []record.ID{e.ID}})
	ref := "R-" + k.do(d, err).ID.Short(8)
	captured := Proof{Reason: policy.Age, What: ProofCaptured, Take: record.ID{1}}
	for name, proofs := range map[string][]Proof{
		"none":                       nil,
		"age alone":                  {captured},
		"captured ends no sighting":  {captured, {Reason: policy.Sighting, What: ProofCaptured, Take: record.ID{1}}},
		"seen without the finding":   {captured, {Reason: policy.Sighting, What: ProofSeen}},
		"done by no hand":            {captured, {Reason: policy.Sighting, What: ProofDone}},
		"never was ends no old scan": {{Reason: policy.Age, What: ProofNeverWas}, {Reason: policy.Sighting, What: ProofNeverWas}},
	} {
		if _, err := Meet(k.st, "m-1", ref, proofs, today, ""); err == nil || !strings.Contains(err.Error(), "nothing ends") {
			t.Errorf("%s: %v", name, err)
		}
	}
	k.do(Meet(k.st, "artist-1", ref, []Proof{captured, {Reason: policy.Sighting, What: ProofNeverWas}}, today, "it was drawn on"))
	if r, _ := k.st.Find(ref); r.Status != Met || len(r.Proofs) != 2 {
		t.Errorf("%+v", r)
	}
}

func TestSightings(t *testing.T) {
	k := newDesk(t, "studio", today)
	report := Report{Subject: "ath-0147", Kind: terms.Tattoo, Region: "forearm-left", Source: terms.FromAgent, Seen: "2026-02-20", Note: "by phone"}
	e := k.do(Sight(k.st, "m-1", report))
	if k.st.Same("ath-0147", terms.Tattoo, "forearm-left") != nil {
		t.Error("nothing is asked for yet")
	}
	d, _, err := Raise(k.st, "m-1", Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Sighting}, Shots: []policy.Shot{body}, Sightings: []record.ID{e.ID}})
	k.do(d, err)
	if v := k.st.Same("ath-0147", terms.Tattoo, ""); v == nil || v.ID != e.ID {
		t.Error("the same thing seen again is not recognised")
	}
	if k.st.Same("ath-0147", terms.Tattoo, "calf-left") != nil || k.st.Same("ath-0150", terms.Tattoo, "") != nil {
		t.Error("another place or person is taken for the same")
	}
	ref := "R-" + k.st.All()[0].ID.Short(8)
	k.do(MarkCaptured(k.st, "op-1", ref, []policy.Shot{body}, nil, today))
	again := k.do(Sight(k.st, "m-1", report))
	other := report
	other.Region = "calf-left"
	elsewhere := k.do(Sight(k.st, "m-1", other))
	for id, want := range map[record.ID]bool{again.ID: true, elsewhere.ID: false} {
		_, joined, err := Raise(k.st, "m-1", Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Sighting}, Shots: []policy.Shot{body}, Sightings: []record.ID{id}})
		if err != nil || (joined != nil) != want {
			t.Errorf("joins what was captured for it: %v, %v", joined != nil, err)
		}
	}
	for name, change := range map[string]func(*Report){
		"kind": func(r *Report) { r.Kind = "tatoo" }, "region": func(r *Report) { r.Region = "forarm-left" },
		"needs a region": func(r *Report) { r.Region = "" }, "source": func(r *Report) { r.Source = "rumour" }, "seen": func(r *Report) { r.Seen = "spring" },
	} {
		bad := report
		change(&bad)
		if _, err := Sight(k.st, "m-1", bad); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := Raise(k.st, "m-1", Ask{Subject: "ath-0150", Reasons: []policy.Reason{policy.Sighting}, Shots: []policy.Shot{body}, Sightings: []record.ID{e.ID}}); err == nil {
		t.Error("a sighting of somebody else was taken")
	}
}

func TestSightingsFromAFile(t *testing.T) {
	text := "code,kind,region,note,seen\nath-0147,tattoo,forearm-left,\"told, by phone\",2026-02-20\nath-0147,hair,,shaved,\n" +
		"ath-0150,tatoo,chest,,\nath-0150,tattoo,,,\nath-0150,hair,scalp,,spring\nAth,hair,,,\n"
	reports, faults := ReadCSV(strings.NewReader(text), "sightings.csv", today)
	want := []Report{
		{Subject: "ath-0147", Kind: terms.Tattoo, Region: "forearm-left", Note: "told, by phone", Seen: "2026-02-20", Source: terms.FromSquad},
		{Subject: "ath-0147", Kind: terms.Hair, Note: "shaved", Seen: today, Source: terms.FromSquad},
	}
	if !reflect.DeepEqual(reports, want) {
		t.Errorf("%+v", reports)
	}
	var places []string
	for _, f := range faults {
		place, _, _ := strings.Cut(f.Error(), ": ")
		places = append(places, place)
	}
	if got := strings.Join(places, " "); got != "sightings.csv:4:10 sightings.csv:5:17 sightings.csv:6:22 sightings.csv:7:1" {
		t.Errorf("faults at %s", got)
	}
}
