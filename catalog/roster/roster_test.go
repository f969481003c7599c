package roster

import (
	"bytes"
	"errors"
	"math/rand"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold/foldtest"
	"mien/catalog/record"
)

type story struct {
	*testing.T
	st  *State
	log *foldtest.Log
}

func newStory(t *testing.T) *story {
	return &story{t, NewState(), foldtest.New("studio", "2026-01-05")}
}

func (s *story) do(d record.Draft, err error) {
	s.Helper()
	if err := s.st.Apply(s.log.Add(s, d, err)); err != nil {
		s.Fatal(err)
	}
}

func TestASubjectMovesAndLeaves(t *testing.T) {
	s := newStory(t)
	s.do(Add(s.st, "m-1", New{Code: "ath-0147", Name: "Ila Morn", Squad: "terns", From: "2025-08-01", Tier: 1}))
	gulls, none := "gulls", ""
	s.do(Set(s.st, "m-1", "ath-0147", Change{Squad: &gulls, From: "2026-02-01"}))
	s.do(Set(s.st, "m-1", "ath-0147", Change{Squad: &none, From: "2026-06-30"}))
	v, _ := s.st.Get("ath-0147")
	for d, want := range map[day.Day]string{"2025-07-31": "", "2025-08-01": "terns", "2026-01-31": "terns", "2026-02-01": "gulls", "2026-06-29": "gulls", "2026-06-30": ""} {
		if got := v.SquadOn(d); got != want {
			t.Errorf("on %s in %q, want %q", d, got, want)
		}
	}
	if got := s.st.In("gulls", "2026-03-01"); len(got) != 1 || len(s.st.In("", "2026-07-01")) != 0 {
		t.Errorf("squad lists: %v", got)
	}
	var c *fault.ConflictError
	if _, err := Add(s.st, "m-1", New{Code: "ath-0147"}); !errors.As(err, &c) || c.When != "2026-01-05" {
		t.Errorf("added twice: %v", err)
	}
	var nf *fault.NotFoundError
	if _, err := Set(s.st, "m-1", "ath-0174", Change{Tier: 1}); !errors.As(err, &nf) || nf.Near[0] != "ath-0147" {
		t.Errorf("unknown subject: %v", err)
	}
}

func TestConsent(t *testing.T) {
	s := newStory(t)
	s.do(Add(s.st, "m-1", New{Code: "ath-0147"}))
	v, _ := s.st.Get("ath-0147")
	if v.MayUse(UseCapture, "2026-03-01") {
		t.Error("no consent recorded, yet in force")
	}
	s.do(GiveConsent(s.st, "p-1", "ath-0147", []Use{UseCapture, UseGame}, "2026-02-01", "2027-02-01", "form of the club"))
	s.do(RevokeConsent(s.st, "p-1", "ath-0147", []Use{UseGame}, "2026-06-01", ""))
	for _, c := range []struct {
		u    Use
		d    day.Day
		want bool
	}{
		{UseCapture, "2026-01-31", false}, {UseCapture, "2026-02-01", true}, {UseCapture, "2027-01-31", true},
		{UseCapture, "2027-02-01", false}, {UseGame, "2026-05-31", true}, {UseGame, "2026-06-01", false}, {UseShow, "2026-03-01", false},
	} {
		if got := v.MayUse(c.u, c.d); got != c.want {
			t.Errorf("%s on %s: %v", c.u, c.d, got)
		}
	}
	if _, err := GiveConsent(s.st, "p-1", "ath-0147", []Use{"resale"}, "2026-02-01", "", ""); err == nil {
		t.Error("an unknown use was taken")
	}
}

func TestEraseLeavesATombstone(t *testing.T) {
	s := newStory(t)
	s.do(Add(s.st, "m-1", New{Code: "ath-0147", Name: "Ila Morn", Squad: "terns", From: "2025-08-01"}))
	s.do(GiveConsent(s.st, "p-1", "ath-0147", []Use{UseCapture}, "2026-02-01", "", "a note"))
	s.do(SetHold(s.st, "p-1", "ath-0147", true, "a dispute"))
	if _, err := Erase(s.st, "p-1", "ath-0147"); err == nil {
		t.Fatal("erased under a legal hold")
	}
	s.do(SetHold(s.st, "p-1", "ath-0147", false, ""))
	s.do(Erase(s.st, "p-1", "ath-0147"))
	before, _ := s.st.Get("ath-0147")
	s.log.LoseKey("ath-0147")
	again := NewState()
	for _, e := range s.log.Entries {
		if err := again.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	after, _ := again.Get("ath-0147")
	if !after.Erased || after.Name != "" || after.NoKey || !reflect.DeepEqual(before, after) {
		t.Errorf("folded without the key:\n%+v\nwith it:\n%+v", after, before)
	}
	if _, err := Set(s.st, "m-1", "ath-0147", Change{Tier: 1}); err == nil {
		t.Error("an erased subject was changed")
	}
}

func TestProps(t *testing.T) {
	s := newStory(t)
	s.do(Add(s.st, "m-1", New{Code: "ath-0147"}))
	s.do(AddProp(s.st, "m-1", "shoe-0021", PropOpen{Kind: "footwear", Side: "left", Mondopoint: 285}, PropSealed{Model: "Skerry 3", Colour: "sand"}))
	s.do(SetWear(s.st, "m-1", "ath-0147", WearOpen{Prop: "shoe-0021", Context: Match, From: "2026-02-01"}))
	s.do(SetWear(s.st, "m-1", "ath-0147", WearOpen{Prop: "shoe-0021", Context: Match, From: "2026-02-01", Until: "2026-05-01"}))
	v, _ := s.st.Get("ath-0147")
	if len(v.WornOn("2026-04-30")) != 1 || len(v.WornOn("2026-05-01")) != 0 {
		t.Errorf("worn: %+v", v.Wears)
	}
	if _, err := SetWear(s.st, "m-1", "ath-0147", WearOpen{Prop: "shoe-0099", Context: Match, From: "2026-02-01"}); err == nil {
		t.Error("an unknown prop is worn")
	}
}

func TestRosterFile(t *testing.T) {
	s := newStory(t)
	s.do(Add(s.st, "m-1", New{Code: "ath-0001", Name: "Ila Morn", Squad: "terns", From: "2025-08-01", Tier: 1}))
	s.do(Add(s.st, "m-1", New{Code: "ath-0002", Name: "Oda Vesk", Squad: "terns", From: "2025-08-01"}))
	s.do(Add(s.st, "m-1", New{Code: "ath-0003", Name: "Runa Holt", Squad: "gulls", From: "2025-08-01"}))
	text := "\ufeffname,code,tier,squad\r\n\"Morn, Ila\",ath-0001,1,terns\r\nOda Vesk,ath-0002,,gulls\r\n\r\n\"Tam \"\"T\"\" Brae\",ath-0004,3,gulls\r\n"
	rows, faults := ReadCSV(strings.NewReader(text), "league.csv")
	if len(faults) != 0 || len(rows) != 3 || rows[2].Name != `Tam "T" Brae` {
		t.Fatalf("%+v, %v", rows, faults)
	}
	p := Compare(s.st, rows, "2026-03-01")
	if len(p.Joined) != 1 || len(p.Moved) != 2 || len(p.Left) != 1 || p.Left[0] != "ath-0003" {
		t.Fatalf("%+v", p)
	}
	drafts, err := p.Drafts(s.st, "m-1", "2026-03-01", true)
	if err != nil || len(drafts) != 4 {
		t.Fatal(drafts, err)
	}
	for _, d := range drafts {
		s.do(d, nil)
	}
	if p := Compare(s.st, rows, "2026-03-01"); p.Same != 3 || len(p.Joined)+len(p.Moved)+len(p.Left) != 0 {
		t.Errorf("a second import changes: %+v", p)
	}
}

func TestRosterFileFaultsNameLineAndColumn(t *testing.T) {
	text := "code,name,squad,tier\nAth-1,A,terns,1\nath-2,B,Grey Terns,1\nath-3,C,terns,9\nath-4,D\nath-5,E,terns,2\nath-5,F,terns,2\n"
	rows, faults := ReadCSV(strings.NewReader(text), "league.csv")
	var got []string
	for _, f := range faults {
		got = append(got, f.Error())
	}
	want := []string{
		`league.csv:2:1: code "Ath-1": allowed is a lower-case word with hyphens`,
		`league.csv:3:9: squad "Grey Terns": allowed is a lower-case word with hyphens, such as grey-terns`,
		`league.csv:4:15: tier "9": allowed 1 to 3`,
		`league.csv:5: 2 fields, the header has 4`,
		`league.csv:7:1: code ath-5 stands in line 6 already`,
	}
	if !reflect.DeepEqual(got, want) || len(rows) != 1 {
		t.Errorf("got %q, %d rows", got, len(rows))
	}
	for text, want := range map[string]string{
		"":                                   "empty",
		"code,nam\n":                         "nearest: name",
		"name,squad\n":                       "no column code",
		"code,code\n":                        "twice",
		"code,name\nath-1,\"open\nath-2,x\n": "league.csv:",
	} {
		if _, faults := ReadCSV(strings.NewReader(text), "league.csv"); len(faults) == 0 || !strings.Contains(faults[0].Error(), want) {
			t.Errorf("%q: %v", text, faults)
		}
	}
}

func TestTwoSitesGiveOneCode(t *testing.T) {
	a, b := foldtest.New("road", "2026-01-05"), foldtest.New("studio", "2026-01-06")
	d, err := Add(NewState(), "m-1", New{Code: "ath-0147", Name: "Ila Morn"})
	a.Add(t, d, err)
	d, err = Add(NewState(), "m-2", New{Code: "ath-0147", Name: "Oda Vesk"})
	b.Add(t, d, err)
	st := NewState()
	var problems int
	for _, e := range foldtest.Merge(b, a) {
		if st.Apply(e) != nil {
			problems++
		}
	}
	if v, _ := st.Get("ath-0147"); !v.Doubled || v.Name != "Ila Morn" || problems != 1 {
		t.Errorf("%+v, %d problems", v, problems)
	}
}

func TestSuggestedCodeIsFree(t *testing.T) {
	s := newStory(t)
	var random bytes.Buffer
	random.Write([]byte{147, 0, 0, 0, 147, 0, 0, 0, 148, 0, 0, 0})
	s.do(Add(s.st, "m-1", New{Code: "ath-0147"}))
	if code, err := Suggest(s.st, "ath", &random); err != nil || code != "ath-0148" {
		t.Errorf("%q, %v", code, err)
	}
	if code, err := Suggest(s.st, "ath", rand.New(rand.NewSource(1))); err != nil || len(code) != 8 {
		t.Errorf("%q, %v", code, err)
	}
}

func TestStaysNeverOverlap(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		v := &Subject{}
		for range rapid.IntRange(1, 12).Draw(r, "stays") {
			squad := rapid.SampledFrom([]string{"", "terns", "gulls"}).Draw(r, "squad")
			v.join(squad, day.Day("2026-01-01").Add(rapid.IntRange(0, 20).Draw(r, "day")))
		}
		for i := 1; i < len(v.Squads); i++ {
			if v.Squads[i-1].Until != v.Squads[i].From || v.Squads[i-1].From >= v.Squads[i].From {
				r.Fatalf("%+v", v.Squads)
			}
		}
	})
}
