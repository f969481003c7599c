package demo

import (
	"fmt"
	"path/filepath"
	"strings"

	"mien/asset/invent"
	"mien/asset/terms"
)

// requestDoc is what the acts read of `mien queue --json`.
type requestDoc struct {
	Requests []struct {
		ID, Subject, State string
		Regions            []string
	}
}

func (p *player) aYearLater([]athlete) error {
	p.at("2026-08-18", "people report what they see")
	for _, s := range [][]string{
		{"ath-0112", "tattoo", "--region", "forearm-left", "--note", "new piece over the summer", "--source", "subject"},
		{"ath-0131", "facial-hair", "--region", "chin", "--note", "full beard now", "--source", "squad"},
		{"ath-0171", "tattoo", "--region", "upper-arm-left", "--note", "seen in a photo", "--source", "public"},
	} {
		if err := p.step(3, "art-1", append([]string{"sight"}, s...)...); err != nil {
			return err
		}
	}
	if err := p.step(3, "lead-1", "request", "raise", "--due"); err != nil {
		return err
	}
	if err := p.step(14, "lead-1", "queue"); err != nil {
		return err
	}
	var q requestDoc
	if err := p.query(&q, "queue"); err != nil {
		return err
	}
	p.at("2026-08-20", "the lead decides")
	approve := []string{"request", "approve"}
	for _, r := range q.Requests {
		if r.Subject == "ath-0171" && len(r.Regions) > 0 {
			if err := p.step(3, "lead-1", "request", "decline", r.ID, "--why", "a shadow in the photo: other light"); err != nil {
				return err
			}
			continue
		}
		approve = append(approve, r.ID)
	}
	if err := p.step(3, "lead-1", append(approve, "--way", "rescan")...); err != nil {
		return err
	}
	if err := p.step(3, "lead-1", "visit", "add", "2026-10-03", "--squad", "gannets,seals,terns", "--minutes", "120", "--place", "harbour hall"); err != nil {
		return err
	}
	out, err := p.run(0, "lead-1", "visit", "list")
	if err != nil {
		return err
	}
	ref := strings.Fields(strings.Split(string(out), "\n")[1])[0]
	return p.step(16, "lead-1", "visit", "plan", ref)
}

func (p *player) secondVisit(people []athlete) error {
	p.at("2026-10-05", "the drive of the second visit arrives, with litter and mishaps")
	dir := filepath.Join(p.Dir, "drive-2")
	if err := p.deliver(people, 2, dir); err != nil {
		return err
	}
	if _, err := invent.Litter(dir, 5); err != nil {
		return err
	}
	return p.step(64, "mgr-1", "intake", dir, "--session", secondSession, "--rig", "rig-2")
}

// findingDoc is what the acts read of `mien finding list --json`.
type findingDoc struct {
	Findings []finding
}

type finding struct {
	ID, Subject, Kind, Action, Region, Part, Standing string
	AreaCM2                                           float64  `json:"area_cm2"`
	PeakMm                                            *float64 `json:"peak_mm"`
}

func (p *player) whatToDo([]athlete) error {
	p.at("2026-10-06", "an artist looks at the findings and judges them")
	var doc findingDoc
	if err := p.query(&doc, "finding", "list"); err != nil {
		return err
	}
	if err := p.step(40, "art-1", "finding", "list"); err != nil {
		return err
	}
	accept := []string{"finding", "accept"}
	for _, f := range doc.Findings {
		if f.Kind == string(terms.Accessory) && f.Region == terms.ForearmRight.String() {
			if err := p.step(3, "art-1", "finding", "set-aside", f.ID, "--why", "a sleeve worn on the day"); err != nil {
				return err
			}
			continue
		}
		accept = append(accept, f.ID)
	}
	if len(accept) > 2 {
		if err := p.step(6, "art-1", accept...); err != nil {
			return err
		}
	}
	for _, s := range []struct {
		most int
		args []string
	}{
		{8, []string{"appearance", "ath-0112"}},
		{20, []string{"request", "list"}},
		{16, []string{"derived", "stale"}},
		{24, []string{"readiness"}},
		{4, []string{"export", "ath-0112", "--part", "body", "--pair", "--to", filepath.Join(p.Dir, "for-the-artist")}},
		{4, []string{"report", "--out", filepath.Join(p.Dir, "report")}},
		{4, []string{"verify"}},
	} {
		by := "mgr-1"
		if s.args[0] == "export" {
			by = "art-1"
		}
		if err := p.step(s.most, by, s.args...); err != nil {
			return err
		}
	}
	return nil
}

// signed writes an optional number of mm.
func signed(v *float64) string {
	if v == nil {
		return ""
	}
	return fmt.Sprintf("%+.1f", *v)
}
