package appearance

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
)

type story struct {
	*testing.T
	st  *State
	log *foldtest.Log
}

func newStory(t *testing.T) *story {
	return &story{t, NewState(), foldtest.New("studio", "2026-03-01")}
}

func (s *story) do(d record.Draft, err error) record.Entry {
	s.Helper()
	e := s.log.Add(s, d, err)
	if err := s.st.Apply(e); err != nil {
		s.Fatal(err)
	}
	return e
}

// compare records a comparison of the head takes of two days and returns the refs of its findings.
func (s *story) compare(engine string, old, new day.Day, findings ...FindingBody) []string {
	s.Helper()
	o := ComparisonOpen{Key: asset.HashBytes([]byte(engine + string(old) + string(new))), Old: record.IDOf([]byte(old)), New: record.IDOf([]byte(new)),
		OldCaptured: old, NewCaptured: new, Shot: policy.Shot{Part: asset.PartBody, Pose: asset.PoseA}, Verdict: "changed", Engine: engine}
	s.do(Record(s.st, "m-1", "ath-0147", o, ComparisonSealed{Findings: findings}))
	var refs []string
	for n := range findings {
		refs = append(refs, "F-"+FindingID(o, n).Short(8))
	}
	return refs
}

func ink(a terms.Action, region string) FindingBody {
	return FindingBody{Kind: terms.Tattoo, Action: a, Region: region, Confidence: 900_000, AreaMM2: 4_100}
}

func (s *story) sheet(d day.Day) string {
	var out []string
	for _, it := range s.st.Sheet("ath-0147", d) {
		out = append(out, fmt.Sprintf("%s %s from %s until %s", it.Kind, it.Region, it.From, it.Until))
	}
	return strings.Join(out, "; ")
}

func TestNewInkComesAndGoes(t *testing.T) {
	s := newStory(t)
	a := s.compare("1", "2025-09-01", "2026-02-01", ink(terms.Added, "forearm-left"), ink(terms.Added, "chest"))
	if len(s.st.Findings("ath-0147", New)) != 2 || s.sheet("2026-03-01") != "" {
		t.Fatal("new findings change nothing")
	}
	s.do(Accept(s.st, "artist-1", a[0], ""))
	s.do(Dismiss(s.st, "artist-1", a[1], "shadow of the rig"))
	if got := s.sheet("2026-03-01"); got != "tattoo forearm-left from 2026-02-01 until " {
		t.Errorf("sheet %q", got)
	}
	if s.sheet("2026-01-31") != "" {
		t.Error("on the sheet before it was seen")
	}
	b := s.compare("1", "2026-02-01", "2026-08-01", ink(terms.Altered, "forearm-left"))
	s.do(Accept(s.st, "artist-1", b[0], ""))
	c := s.compare("1", "2026-08-01", "2027-02-01", ink(terms.Removed, "forearm-left"))
	s.do(Accept(s.st, "artist-1", c[0], "laser"))
	items := s.st.Items("ath-0147")
	if len(items) != 1 || items[0].Until != "2027-02-01" || items[0].Altered[0] != "2026-08-01" || len(items[0].Evidence) != 3 || items[0].NotBefore != "2025-09-01" {
		t.Errorf("%+v", items)
	}
	s.do(Dismiss(s.st, "lead-1", c[0], "make-up"))
	if got := s.sheet("2027-03-01"); got != "tattoo forearm-left from 2026-02-01 until " {
		t.Errorf("setting a finding aside gives the item back: %q", got)
	}
}

func TestCoveredIsNotRemoved(t *testing.T) {
	s := newStory(t)
	s.do(Add(s.st, "m-1", "ath-0147", Entry{Kind: terms.Tattoo, Region: "forearm-left", From: "2024-01-01"}))
	f := ink(terms.Removed, "forearm-left")
	f.Covered = true
	refs := s.compare("1", "2025-09-01", "2026-02-01", f)
	if _, err := Accept(s.st, "artist-1", refs[0], ""); err == nil || !strings.Contains(err.Error(), "bare") {
		t.Errorf("a covered region ended an item: %v", err)
	}
	// A record from elsewhere that says so all the same changes nothing.
	s.do(record.Draft{Kind: KindAccept, Subject: "ath-0147", Open: FindingOpen{s.st.Findings("ath-0147")[0].ID}}, nil)
	if s.sheet("2026-03-01") == "" {
		t.Error("a covered region ended an item")
	}
}

func TestAFindingIsEvidenceForAnEnteredItem(t *testing.T) {
	s := newStory(t)
	s.do(Add(s.st, "m-1", "ath-0147", Entry{Kind: terms.Tattoo, Region: "forearm-left", From: "2025-12-10", Note: "told by phone"}))
	refs := s.compare("1", "2025-09-01", "2026-02-01", ink(terms.Added, "forearm-left"))
	s.do(Accept(s.st, "artist-1", refs[0], ""))
	items := s.st.Items("ath-0147")
	if len(items) != 1 || items[0].From != "2025-12-10" || items[0].NotBefore != "2025-09-01" || len(items[0].Evidence) != 2 {
		t.Errorf("%+v", items)
	}
}

func TestARepeatedComparisonKeepsDecisions(t *testing.T) {
	s := newStory(t)
	old := s.compare("1", "2025-09-01", "2026-02-01", ink(terms.Added, "forearm-left"), ink(terms.Added, "chest"))
	s.do(Accept(s.st, "artist-1", old[0], ""))
	s.do(Dismiss(s.st, "artist-1", old[1], "shadow"))
	s.compare("2", "2025-09-01", "2026-02-01", ink(terms.Added, "chest"), ink(terms.Added, "forearm-left"), ink(terms.Added, "calf-left"))
	var got []string
	for _, f := range s.st.Findings("ath-0147") {
		got = append(got, fmt.Sprintf("%s %s %v", f.Region, f.Standing, f.Carried))
	}
	if want := "chest set-aside true, forearm-left accepted true, calf-left new false"; strings.Join(got, ", ") != want {
		t.Errorf("%q", got)
	}
	if len(s.st.Items("ath-0147")) != 1 {
		t.Error("the item is doubled or lost")
	}
}

func TestItemsOfFindingsTakeWhatPeopleSay(t *testing.T) {
	s := newStory(t)
	refs := s.compare("1", "2025-09-01", "2026-02-01", ink(terms.Added, "forearm-left"), ink(terms.Added, "chest"))
	s.do(Accept(s.st, "artist-1", refs[0], ""))
	s.do(Accept(s.st, "artist-1", refs[1], ""))
	item := func(region string) Item {
		for _, it := range s.st.Items("ath-0147") {
			if it.Region == region {
				return it
			}
		}
		t.Fatalf("no item on %s", region)
		return Item{}
	}
	s.do(Clear(s.st, "m-1", "ath-0147", item("forearm-left").Ref(), Cleared, "letter of the studio"))
	s.do(End(s.st, "m-1", "ath-0147", item("forearm-left").Ref(), "2026-09-01", ""))
	if it := item("forearm-left"); it.Clearance != Cleared || it.Until != "2026-09-01" {
		t.Errorf("%+v", it)
	}
	var c *fault.ConflictError
	if _, err := End(s.st, "m-1", "ath-0147", item("forearm-left").Ref(), "2026-10-01", ""); !errors.As(err, &c) {
		t.Error(err)
	}
	s.do(Withdraw(s.st, "m-1", "ath-0147", item("chest").Ref(), "never was"))
	if len(s.st.Items("ath-0147")) != 1 {
		t.Error("a withdrawn item is still listed")
	}
}

func TestWhatCannotBeEntered(t *testing.T) {
	s := newStory(t)
	var u *terms.UnknownError
	for name, in := range map[string]Entry{
		"kind":      {Kind: "tatoo", Region: "chest"},
		"region":    {Kind: terms.Tattoo, Region: "forarm-left"},
		"clearance": {Kind: terms.Tattoo, Region: "chest", Clearance: "maybe"},
	} {
		if _, err := Add(s.st, "m-1", "ath-0147", in); !errors.As(err, &u) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Add(s.st, "m-1", "ath-0147", Entry{Kind: terms.Tattoo, Region: "chest", From: "2026-02-01", Until: "2026-02-01"}); err == nil {
		t.Error("gone on the day it came")
	}
	if _, err := Dismiss(s.st, "m-1", s.compare("1", "2025-09-01", "2026-02-01", ink(terms.Added, "chest"))[0], ""); err == nil {
		t.Error("set aside without a reason")
	}
	if _, err := s.st.Find("F-zzzzzz"); err == nil {
		t.Error("found what is not there")
	}
}

func TestWithoutTheKeyNothingIsSaid(t *testing.T) {
	s := newStory(t)
	refs := s.compare("1", "2025-09-01", "2026-02-01", ink(terms.Added, "chest"))
	s.do(Accept(s.st, "artist-1", refs[0], "seen"))
	s.log.LoseKey("ath-0147")
	st := NewState()
	for _, e := range s.log.Entries {
		if err := st.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	if len(st.Findings("ath-0147")) != 0 || len(st.Items("ath-0147")) != 0 || !st.Comparisons("ath-0147")[0].Sealed {
		t.Error("something is left to read")
	}
}
