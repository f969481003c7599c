package projection

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"regexp"
	"sort"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/derived"
	"mien/catalog/fold/foldtest"
	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/catalog/roster"
	"mien/catalog/session"
	"mien/catalog/visit"
)

var update = flag.Bool("update", false, "write the records and the state of this program as the frozen ones")

// everything records one of each kind, as the program does it.
func everything(t *testing.T) []record.Entry {
	s := newSite(t, "studio", "2025-01-05")
	st := s.state
	s.do(people.Add(st.People, "lead-1", "lead-1", "Somebody", []people.Role{people.Lead, people.Manager}))
	s.do(people.Add(st.People, "lead-1", "artist-1", "Somebody Else", []people.Role{people.Artist}))
	s.do(people.SetRoles(st.People, "lead-1", "artist-1", []people.Role{people.Artist, people.Manager}))
	s.do(people.AddKey(st.People, "lead-1", "lead-1", "ssh-ed25519 AAAAC3Nz desk"))
	s.do(people.End(st.People, "lead-1", "artist-1", "left"))
	s.do(policy.Set(st.Policy, "lead-1", []byte("schema: 1\nlead-days: 30\n"), "slower"))
	s.do(roster.Add(st.Roster, "lead-1", roster.New{Code: "ath-0147", Name: "Ila Morn", Born: "2001-02-03", Squad: "terns", From: "2025-01-01", Tier: 1}))
	s.do(roster.Add(st.Roster, "lead-1", roster.New{Code: "ath-0150", Name: "Oda Vesk"}))
	gulls := "gulls"
	s.do(roster.Set(st.Roster, "lead-1", "ath-0150", roster.Change{Squad: &gulls, From: "2025-02-01", Tier: 3, Note: "by boat"}))
	s.do(roster.GiveConsent(st.Roster, "lead-1", "ath-0147", []roster.Use{roster.UseCapture, roster.UseGame}, "2025-01-01", "2027-01-01", "form 3"))
	s.do(roster.SetHold(st.Roster, "lead-1", "ath-0147", true, "a dispute"))
	s.do(roster.Disclosed(st.Roster, "lead-1", "ath-0147", "2025-01-20", "by letter"))
	s.do(roster.AddProp(st.Roster, "lead-1", "shoe-0021", roster.PropOpen{Kind: terms.Footwear, Side: "left", Mondopoint: 285}, roster.PropSealed{Model: "Skerry 3", Colour: "sand"}))
	s.do(roster.SetWear(st.Roster, "lead-1", "ath-0147", roster.WearOpen{Prop: "shoe-0021", Context: roster.Match, From: "2025-01-10"}))
	s.do(session.AddRig(st.Session, "lead-1", "rig-1", "2025-01-01", "van"))
	s.do(session.NoteRig(st.Session, "lead-1", "rig-1", "2025-06-01", "light", "new lamps"))

	s.log.On("2025-03-01")
	old := s.intake("ath-0147", "2025-03-01", "road", true, head, body)
	wrong := s.intake("ath-0150", "2025-03-02", "road", false, head, body)
	ref := func(id record.ID) string { return "T-" + id.Short(12) }
	s.do(session.Accept(st.Session, "lead-1", ref(wrong[1]), "fine"))
	s.do(session.Reject(st.Session, "lead-1", ref(wrong[1]), "soft"))
	s.do(session.Refile(st.Session, "lead-1", ref(wrong[0]), "ath-0147", policy.Shot{}, 0, "wrong person"))
	s.do(session.Choose(st.Session, "lead-1", ref(wrong[0]), "calmer"))
	s.do(session.Withdraw(st.Session, "lead-1", ref(wrong[0]), "test shot"))
	s.do(derived.Add(st.Derived, st.Session, "lead-1", derived.New{Subject: "ath-0147", Name: "torso", Takes: old[1:], Stage: asset.StageRaw, Files: []asset.Hash{asset.HashBytes([]byte("torso"))}, Regions: []string{"neck-front", "chest"}, On: "2025-04-01"}))
	s.do(derived.Add(st.Derived, st.Session, "lead-1", derived.New{Subject: "ath-0147", Name: "bust", Takes: old[:1], On: "2025-04-01"}))
	s.do(derived.Retire(st.Derived, "lead-1", "bust", "cut"))

	s.log.On("2025-09-10")
	e := s.do(request.Sight(st.Request, "lead-1", request.Report{Subject: "ath-0147", Kind: terms.Tattoo, Region: "neck-front", Source: terms.FromAgent, Seen: "2025-09-09", Note: "by phone", Photo: asset.HashBytes([]byte("photo")), PhotoName: "neck.jpg"}))
	d, _, err := request.Raise(st.Request, "lead-1", st.Judge("2025-09-10").ForSighting(st.Request.Sighting(e.ID)))
	r := "R-" + s.do(d, err).ID.Short(12)
	d, _, err = request.Raise(st.Request, "lead-1", request.Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Age}, Shots: []policy.Shot{head}, Takes: old[:1], Note: "and it is old"})
	s.do(d, err)
	s.do(request.Decline(st.Request, "lead-1", r, "2025-09-10", "other light"))
	s.do(request.Reopen(st.Request, "lead-1", r, "2025-09-11", "it is not the light"))
	s.do(request.Defer(st.Request, "lead-1", r, "2025-10-01", "2025-09-11", "off season"))
	s.do(request.Approve(st.Request, "lead-1", r, request.Rescan, "2025-09-12", ""))
	s.do(request.Pin(st.Request, "lead-1", r, true, "cover"))
	v := s.do(visit.Add(st.Visit, "lead-1", visit.AddOpen{Date: "2025-10-03", Squads: []string{"terns"}, Minutes: 60, Rig: "rig-1"}, visit.AddSealed{Place: "Hall 2", Note: "side door"}))
	gone := s.do(visit.Add(st.Visit, "lead-1", visit.AddOpen{Date: "2025-10-04", Squads: []string{"gulls"}, Minutes: 60}, visit.AddSealed{}))
	s.do(visit.Drop(st.Visit, "lead-1", "V-"+gone.ID.Short(12), "storm"))
	open, _ := st.Request.Find(r)
	plan := visit.Propose(st.Policy.Policy, 60, []visit.Wish{{Request: open.ID, Subject: open.Subject, Shots: open.Shots, Score: 50}})
	s.do(visit.SetPlan(st.Visit, "lead-1", "V-"+v.ID.Short(12), plan.Slots))
	s.do(request.Plan(st.Request, "lead-1", r, v.ID, "2025-09-12"))
	s.do(request.Unplan(st.Request, "lead-1", r, "2025-09-12", "too early"))
	s.do(request.Plan(st.Request, "lead-1", r, v.ID, "2025-09-12"))

	s.log.On("2025-10-03")
	s.do(visit.Log(st.Visit, "lead-1", "V-"+v.ID.Short(12), "ath-0147", "2025-10-03", visit.Present, []visit.LogOpenOne{{Shot: head, Number: 1, Result: visit.Shot}, {Shot: body, Number: 1, Result: visit.Shot}}, "calm"))
	now := s.intake("ath-0147", "2025-10-03", "road", true, head, body)
	s.do(request.MarkCaptured(st.Request, "lead-1", r, []policy.Shot{head, body}, now, "2025-10-03"))
	s.do(request.Return(st.Request, "lead-1", r, []policy.Shot{body}, "2025-10-04", "collar"))
	s.do(request.MarkCaptured(st.Request, "lead-1", r, []policy.Shot{body}, now[1:], "2025-10-04"))
	c := appearance.ComparisonOpen{Key: asset.HashBytes([]byte("key")), Old: old[0], New: now[0], OldCaptured: "2025-03-01", NewCaptured: "2025-10-03", Shot: head, Verdict: "changed", Engine: "1", Result: asset.HashBytes([]byte("result"))}
	s.do(appearance.Record(st.Appearance, "lead-1", "ath-0147", c, appearance.ComparisonSealed{
		Findings: []appearance.FindingBody{
			{Kind: terms.Tattoo, Action: terms.Added, Region: "neck-front", Confidence: 930_000, AreaMM2: 4100, Because: []string{"darker than all skin around it"}, RuledOut: []string{"light"}, Spots: []string{"S1"}},
			{Kind: terms.Hair, Action: terms.Altered, Region: "scalp", Confidence: 400_000, AreaMM2: 900, Covered: true}},
		Spots:  []appearance.SpotBody{{ID: "S1", Layer: "colour", Regions: []string{"neck-front"}, AreaMM2: 4100, Peak: 21_300}},
		Causes: []string{"light"}, Conclusion: "Front of the neck: new ink, 41 cm2."}))
	s.do(appearance.Accept(st.Appearance, "lead-1", st.Appearance.Findings("ath-0147")[0].Ref(), "seen"))
	s.do(appearance.Dismiss(st.Appearance, "lead-1", st.Appearance.Findings("ath-0147")[1].Ref(), "wet hair"))
	proofs, missing := st.Judge("2025-10-05").Proofs(st.Request, open, st.Appearance)
	if len(missing) != 0 {
		t.Fatal(missing)
	}
	s.do(request.Meet(st.Request, "lead-1", r, proofs, "2025-10-05", ""))
	s.do(derived.Remade(st.Derived, st.Session, "lead-1", "torso", derived.New{Takes: now[1:], On: "2025-11-01"}, "neck redone"))
	s.do(appearance.Add(st.Appearance, "lead-1", "ath-0147", appearance.Entry{Kind: terms.Accessory, Region: "wrist-left", From: "2025-10-01", Note: "a band", Sighting: e.ID}))
	item := func(kind terms.ItemKind) string {
		for _, it := range st.Appearance.Items("ath-0147") {
			if it.Kind == kind {
				return it.Ref()
			}
		}
		return ""
	}
	s.do(appearance.Clear(st.Appearance, "lead-1", "ath-0147", item(terms.Tattoo), appearance.Cleared, "letter"))
	s.do(appearance.End(st.Appearance, "lead-1", "ath-0147", item(terms.Accessory), "2025-11-01", "worn out"))
	s.do(appearance.Add(st.Appearance, "lead-1", "ath-0147", appearance.Entry{Kind: terms.Kit, Region: "chest"}))
	s.do(appearance.Withdraw(st.Appearance, "lead-1", "ath-0147", item(terms.Kit), "never was"))
	d, _, err = request.Raise(st.Request, "lead-1", request.Ask{Subject: "ath-0147", Reasons: []policy.Reason{policy.Quality}, Shots: []policy.Shot{head}})
	s.do(request.Withdraw(st.Request, "lead-1", "R-"+s.do(d, err).ID.Short(12), "2025-11-01", "a mistake"))
	s.do(roster.Erase(st.Roster, "lead-1", "ath-0150"))
	return s.log.Entries
}

// line is one record of the frozen file.
type line struct {
	ID      record.ID       `json:"id"`
	Kind    record.Kind     `json:"kind"`
	Subject string          `json:"subject"`
	At      record.Stamp    `json:"at"`
	By      string          `json:"by"`
	After   []record.ID     `json:"after"`
	Open    json.RawMessage `json:"open"`
	Sealed  json.RawMessage `json:"sealed"`
}

const frozen = "testdata/records-1"

// What this program writes is what stands frozen, byte for byte; and what stands frozen folds to the
// state that stands beside it. Records of an older form stay readable for ever: a change of form adds a
// second pair of files and leaves this one.
func TestFrozenRecords(t *testing.T) {
	var wrote bytes.Buffer
	for _, e := range everything(t) {
		b, err := json.Marshal(line{e.ID, e.Kind, e.Subject, e.At, e.By, e.After, e.Open, e.Sealed})
		if err != nil {
			t.Fatal(err)
		}
		wrote.Write(append(b, '\n'))
	}
	if *update {
		os.MkdirAll("testdata", 0o755)
		os.WriteFile(frozen+".jsonl", wrote.Bytes(), 0o644)
	}
	text, err := os.ReadFile(frozen + ".jsonl")
	if err != nil {
		t.Fatal(err)
	}
	now := bytes.Split(wrote.Bytes(), []byte("\n"))
	var entries []record.Entry
	for i, l := range bytes.Split(bytes.TrimSpace(text), []byte("\n")) {
		if i >= len(now) || !bytes.Equal(l, now[i]) {
			t.Errorf("record %d is written otherwise:\n%s\nfrozen:\n%s", i+1, now[min(i, len(now)-1)], l)
		}
		var v line
		if err := json.Unmarshal(l, &v); err != nil {
			t.Fatal(err)
		}
		entries = append(entries, record.Entry{ID: v.ID, Schema: 1, Kind: v.Kind, Subject: v.Subject, At: v.At, By: v.By, After: v.After, Open: v.Open, Sealed: v.Sealed})
	}
	st, problems := Fold(entries)
	if len(problems) != 0 {
		t.Errorf("problems: %v", problems)
	}
	got := whole(st)
	if *update {
		os.WriteFile(frozen+".txt", []byte(got), 0o644)
	}
	want, err := os.ReadFile(frozen + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("folds to\n%s\nfrozen\n%s", got, want)
	}
}

// whole adds to a summary what the others leave out.
func whole(s *State) string {
	var b strings.Builder
	fmt.Fprintln(&b, "policy", s.Policy.Policy.LeadDays, s.Policy.Why)
	for _, p := range s.People.List() {
		fmt.Fprintln(&b, "person", p.Code, p.Name, p.Roles, p.Keys, p.Ended)
	}
	for _, v := range s.Roster.List() {
		fmt.Fprintln(&b, "subject", v.Code, v.Tier, v.Born, v.Note, v.Hold, v.MayUse(roster.UseGame, "2026-01-01"), len(v.WornOn("2025-02-01")))
	}
	for _, p := range s.Roster.Props() {
		fmt.Fprintln(&b, "prop", p.Code, p.Kind, p.Side, p.Mondopoint, p.Model, p.Colour)
	}
	for _, r := range s.Session.Rigs() {
		fmt.Fprintln(&b, "rig", r.Code, r.Note, r.Epochs)
	}
	for _, k := range s.Session.Takes("") {
		fmt.Fprintln(&b, "take", k.Ref(), k.Subject, k.Session, k.Shot, k.Number, k.Standing, k.Why)
	}
	for _, v := range s.Request.Sightings("") {
		fmt.Fprintln(&b, "sighting", v.Ref(), v.Subject, v.Kind, v.Region, v.Note, v.Seen, v.Source, v.Photo.Short())
	}
	for _, r := range s.Request.All() {
		fmt.Fprintln(&b, "request", r.Ref(), r.Way, r.Pinned, r.Proofs, r.Got, len(r.Log))
	}
	for _, v := range s.Visit.List() {
		fmt.Fprintln(&b, "visit", v.Ref(), v.Date, v.Place, v.Note, v.Dropped, v.Why, v.Shot("ath-0147"))
	}
	return b.String() + summary(s, "2025-12-01")
}

// The page that describes the records names every kind that the program writes, and no other.
func TestEveryKindIsDescribed(t *testing.T) {
	text, err := os.ReadFile("../RECORDS.md")
	if err != nil {
		t.Fatal(err)
	}
	var described []string
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z.-]+)` \\|").FindAllStringSubmatch(string(text), -1) {
		described = append(described, m[1])
	}
	seen := map[string]bool{}
	var written []string
	for _, e := range foldtest.Merge(&foldtest.Log{Entries: everything(t)}) {
		if !seen[string(e.Kind)] {
			seen[string(e.Kind)] = true
			written = append(written, string(e.Kind))
		}
	}
	sort.Strings(described)
	sort.Strings(written)
	if strings.Join(described, " ") != strings.Join(written, " ") {
		t.Errorf("described\n%v\nwritten\n%v", described, written)
	}
}
