package policy

import (
	"encoding/json"
	"strings"
	"testing"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/record"
)

func TestDefaultIsWhole(t *testing.T) {
	p := Default()
	for _, r := range Reasons() {
		if p.Weight(r) <= 0 {
			t.Errorf("reason %s weighs nothing", r)
		}
	}
	if got := p.HalfMinutes(p.Shots(true)); got != 4 {
		t.Errorf("core shots take %d half-minutes, want 4", got)
	}
	if got := p.HalfMinutes(p.Shots(false)); float64(got)/2 > p.Rig.PerSubjectMinutes {
		t.Errorf("the whole shot list takes %g minutes, more than a subject gives", float64(got)/2)
	}
}

func TestFileNames(t *testing.T) {
	p := Default()
	head := Shot{asset.PartHead, asset.PoseNeutral}
	for name, want := range map[string]Fields{
		"ath-0147_head_neutral_1":                  {Code: "ath-0147", Shot: head, Take: 1},
		"ATH-0147_Head_Neutral_02_BaseColor":       {Code: "ath-0147", Shot: head, Take: 2, Channel: asset.BaseColor},
		"ath-0147_head_neutral_1_base-color_cross": {Code: "ath-0147", Shot: head, Take: 1, Channel: asset.BaseColor, Light: asset.LightCross},
		"ath-0147_body_a-pose_3":                   {Code: "ath-0147", Shot: Shot{asset.PartBody, asset.PoseA}, Take: 3},
		"ath-0147_body_APose_3_nrm":                {Code: "ath-0147", Shot: Shot{asset.PartBody, asset.PoseA}, Take: 3, Channel: asset.Normal},
		"ath-0147 handL neutral":                   {Code: "ath-0147", Shot: Shot{asset.PartHandLeft, asset.PoseNeutral}},
		"ath-0147_hand-right_neutral_albedo":       {Code: "ath-0147", Shot: Shot{asset.PartHandRight, asset.PoseNeutral}, Channel: asset.BaseColor},
	} {
		got, ok := p.ReadName(name)
		if !ok || got != want {
			t.Errorf("ReadName(%q) = %+v, %v; want %+v", name, got, ok, want)
		}
	}
	for _, name := range []string{"", "notes", "ath-0147", "ath-0147_head_neutral_1_extra_words", "IMG_2041_export-copy.bak"} {
		if got, ok := p.ReadName(name); ok {
			t.Errorf("ReadName(%q) = %+v, want none", name, got)
		}
	}
}

func TestParseKeepsWhatTheTextLeavesOut(t *testing.T) {
	p, err := Parse([]byte("schema: 1\nage-months: {head: 6}\nrig: {hold-back: 0.1}\ntolerance: {mm: 2}\nnaming: {parts: {body: [whole]}}\ntiers: [1, 0.5]\n"))
	if err != nil {
		t.Fatal(err)
	}
	if p.OldAfterMonths("head") != 6 || p.OldAfterMonths("body") != 18 || p.OldAfterMonths("ear-cast") != 24 {
		t.Errorf("ages: %v", p.AgeMonths)
	}
	if p.Tier(3) != 0.5 || p.Tier(0) != 1 || len(p.ShotList) != len(Default().ShotList) {
		t.Errorf("tiers %v, %d shots", p.Tiers, len(p.ShotList))
	}
	if p.Rig.HoldBack != 0.1 || p.Rig.PerSubjectMinutes != 7 || p.Tolerance.DE00 != 6 || p.Tolerance.At("scalp").Mm != 5 {
		t.Errorf("rig %+v, tolerance %+v", p.Rig, p.Tolerance)
	}
	if f, ok := p.ReadName("ath-0147_whole_apose_1_albedo"); !ok || f.Shot.Part != "body" || f.Shot.Pose != "a-pose" {
		t.Errorf("naming %+v", p.Naming)
	}
	if Default().OldAfterMonths("head") != 12 {
		t.Error("parsing one policy altered the default")
	}
}

func TestFaultsNameTheirPlace(t *testing.T) {
	for text, want := range map[string]string{
		"schema: 1\nshot-lst: []\n":                                            "2:1",
		"schema: 1\nlead-days: soon\n":                                         "2:12",
		"schema: 2\n":                                                          "schema 2: allowed is 1",
		"schema: 1\nvisibility: {forarm-left: 1}\n":                            "forearm-left",
		"schema: 1\nvisibility: {nose: 1.5}\n":                                 "allowed 0 to 1",
		"schema: 1\nreasons: {whim: 1}\n":                                      `"whim" unknown`,
		"schema: 1\nshot-list: [{part: head, pose: neutral, minutes: 0.7}]\n":  "steps of 0.5",
		"schema: 1\nnaming: {patterns: [\"{code}_{prt}\"]}\n":                  "unknown field {prt}",
		"schema: 1\nreleases: [{name: spring, content-lock: 2027-02-30}]\n":    "not a date",
		"schema: 1\ntolerance: {mm: -1, de00: 6, spot-cm2: 1}\n":               "above 0",
		"schema: 1\nrig: {hold-back: 1.5, per-subject-minutes: 7}\n":           "hold-back 1.5",
		"schema: 1\nshot-list: [{part: Head, pose: neutral, minutes: 1}]\n":    "lower-case",
		"schema: 1\nsees: {head: [nostril]}\n":                                 "nostril",
		"schema: 1\nage-months: {head: 0}\n":                                   "allowed 1 to 600",
		"schema: 1\ntolerance: {regions: {nose: {mm: .nan}}, mm: .nan}\n":      "above 0",
		"schema: 1\nshot-list: [{part: head, pose: neutral, minutes: .inf}]\n": "minutes",
	} {
		_, err := Parse([]byte(text))
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("Parse(%q): %v, want one line with %q", text, err, want)
		}
	}
}

func TestShots(t *testing.T) {
	for text, want := range map[string]string{"head": "head/neutral", "body": "body/a-pose", "head/smile": "head/smile"} {
		if s, err := ParseShot(text); err != nil || s.String() != want {
			t.Errorf("ParseShot(%q) = %s, %v", text, s, err)
		}
	}
	if _, err := ParseShot("head/"); err == nil {
		t.Error("an empty pose was taken")
	}
	a, b := Shot{"head", "neutral"}, Shot{"body", "a-pose"}
	if got := Union([]Shot{a, b}, []Shot{a}); len(got) != 2 || got[0] != b {
		t.Errorf("Union = %v", got)
	}
	if got := Overlap([]Shot{a, b}, []Shot{b}); len(got) != 1 || got[0] != b {
		t.Errorf("Overlap = %v", got)
	}
}

func TestNextLockIsTheOneStillReachable(t *testing.T) {
	p, err := Parse([]byte("schema: 1\nlead-days: 30\nreleases:\n" +
		"  - {name: spring, content-lock: 2027-03-01}\n  - {name: autumn, content-lock: 2027-09-01}\n" +
		"  - {name: cup, content-lock: 2027-02-01, squads: [terns]}\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ squad, today, want, last string }{
		{"gulls", "2026-11-01", "spring", "2027-01-30"},
		{"terns", "2026-11-01", "cup", "2027-01-02"},
		{"terns", "2027-01-30", "spring", "2027-01-30"},
		{"terns", "2027-01-31", "autumn", "2027-08-02"},
	} {
		r, last, ok := p.NextLock(c.squad, day.Day(c.today))
		if !ok || r.Name != c.want || string(last) != c.last {
			t.Errorf("%s on %s: %s, last day %s", c.squad, c.today, r.Name, last)
		}
	}
	if _, _, ok := p.NextLock("gulls", "2028-01-01"); ok {
		t.Error("a lock that is past was offered")
	}
}

func TestSetIsFolded(t *testing.T) {
	st := NewState()
	if _, err := Set(st, "lead-1", []byte("schema: 9"), ""); err == nil {
		t.Error("a policy that does not parse was recorded")
	}
	d, err := Set(st, "lead-1", []byte("schema: 1\nlead-days: 40\n"), "slower season")
	if err != nil {
		t.Fatal(err)
	}
	sealed, _ := json.Marshal(d.Sealed)
	e := record.Entry{ID: record.ID{1}, Kind: d.Kind, By: d.By, Sealed: sealed}
	if err := st.Apply(e); err != nil || st.Policy.LeadDays != 40 || !st.Recorded {
		t.Fatalf("%v, lead days %d", err, st.Policy.LeadDays)
	}
	e.ID, e.Sealed, e.NoKey = record.ID{2}, nil, true
	if err := st.Apply(e); err == nil || st.Policy.LeadDays != 40 {
		t.Error("a policy without its key must be named and leave the one before")
	}
}

func BenchmarkDefault(b *testing.B) {
	for b.Loop() {
		Default()
	}
}
