package report

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func site(t *testing.T) *Site {
	pic := filepath.Join(t.TempDir(), "heat.png")
	if err := os.WriteFile(pic, []byte("png"), 0o600); err != nil {
		t.Fatal(err)
	}
	return &Site{
		Title: "Coastal league", AsOf: "2026-10-05", Cautions: []string{"Scans of a face can be biometric data."},
		Squads: []Squad{{Name: "terns", Subjects: 4, Current: 3, Wrong: 1}},
		Subjects: []Subject{{Code: "ath-0112", Name: "Ilo <M>", Squad: "terns", Tier: 1, Standing: "wrong",
			Comparisons: []Comparison{{Part: "body", Pose: "a-pose", Conclusion: "Left forearm: new ink, 41 cm2.",
				Findings: []Finding{{ID: "F1", Kind: "tattoo", Action: "added", Region: "forearm-left", AreaCM2: 41,
					Pictures: []Picture{{From: pic, Caption: "before, after, difference"}}}}}}}},
	}
}

func TestReportHoldsFindingAndPictureAndEscapes(t *testing.T) {
	dir := t.TempDir()
	if err := Write(context.Background(), dir, site(t)); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(dir, "ath-0112.html"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"forearm left", "41.0 cm²", `src="pictures/ath-0112-01.png"`, "Ilo &lt;M&gt;", "biometric"} {
		if !strings.Contains(string(b), want) {
			t.Errorf("page lacks %q", want)
		}
	}
	if got, _ := os.ReadFile(filepath.Join(dir, "pictures", "ath-0112-01.png")); string(got) != "png" {
		t.Errorf("picture holds %q", got)
	}
}

func TestCodesOnlyLeavesNamesOut(t *testing.T) {
	dir, s := t.TempDir(), site(t)
	s.CodeOnly = true
	if err := Write(context.Background(), dir, s); err != nil {
		t.Fatal(err)
	}
	for _, f := range []string{"index.html", "ath-0112.html"} {
		if b, _ := os.ReadFile(filepath.Join(dir, f)); strings.Contains(string(b), "Ilo") {
			t.Errorf("%s names a person", f)
		}
	}
}

func TestMissingPictureIsAnError(t *testing.T) {
	s := site(t)
	s.Subjects[0].Comparisons[0].Findings[0].Pictures[0].From += "x"
	if err := Write(context.Background(), t.TempDir(), s); err == nil {
		t.Error("a missing picture went unnoticed")
	}
}
