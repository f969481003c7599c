package change

import (
	"fmt"
	"math"
	"strings"

	"mien/asset"
	"mien/asset/terms"
	"mien/diff/result"
)

const (
	broadCM2     = 300 // shape changed over this much skin of one sign is a matter of build
	broadRegions = 2
	supportCM2   = 60 // the same when girths say so too
	faceCM2      = 25 // the same on a head
)

// findPhysique reports a change of build: girths and volumes beyond their limits, or broad changes of
// shape on skin of one sign. It gives one finding for the whole body, never one a region.
func findPhysique(r *reading) []result.Finding {
	girths, worst := r.girths()
	var where areas
	var grown, shrunk, peak float64
	onHead := r.in.New != nil && r.in.New.Part == asset.PartHead
	body := func(s *result.Spot, class uint8) bool {
		k := terms.Class(class)
		if onHead && shareIn(s, face) < 0.5 {
			return false // necks bend and hair moves; a face does not
		}
		return (k == terms.Skin || k == terms.ClassUnknown || k == terms.Cloth) && shareIn(s, foot) < 0.5
	}
	for k := range r.in.Shape {
		s := &r.in.Shape[k].Spot
		if r.usedShape[k] || !body(s, r.shapeClass[k]) {
			continue
		}
		where.addSpot(s)
		peak = max(peak, math.Abs(s.Peak))
		if s.Mean > 0 {
			grown += s.AreaCM2
		} else {
			shrunk += s.AreaCM2
		}
	}
	regions := 0
	for _, a := range where {
		if a >= 5 {
			regions++
		}
	}
	least := broadCM2
	if onHead {
		least = faceCM2
	}
	more := max(grown, shrunk)
	broad := more >= float64(least) && regions >= broadRegions && min(grown, shrunk) < 0.5*more
	if !broad && (len(girths) < 2 || more < supportCM2) {
		return nil
	}
	f := result.Finding{Kind: string(terms.Physique), Action: string(terms.Altered), AreaCM2: more, RuledOut: []string{}}
	anywhere := func(terms.Region) bool { return true }
	if f.Region = where.largest(anywhere); f.Region == "" {
		f.Region = terms.Abdomen.String()
	}
	if broad {
		way := "outward"
		if shrunk > grown {
			way = "inward"
		}
		f.Because = append(f.Because, fmt.Sprintf("the skin moved %s over %.0f cm2 in %d regions, by up to %.1f mm", way, more, regions, peak))
	}
	if len(girths) > 0 {
		f.Because = append(f.Because, strings.Join(girths, "; "))
	}
	if p := r.in.Posture; p != nil {
		f.RuledOut = append(f.RuledOut, fmt.Sprintf("posture: %d joints taken out first", len(p.Joints)),
			fmt.Sprintf("breathing: %.1f mm taken out first", p.BreathingMm))
	}
	f.Confidence = confidence(max(strength(more, float64(least)/2), strength(float64(len(girths)), 1)*strength(worst, 1)))
	f.Spots = r.claim(body)
	return []result.Finding{f}
}

// girths lists the girths and volumes that changed by more than is detectable and than the studio's
// share, and the largest change in units of that limit.
func (r *reading) girths() (lines []string, worst float64) {
	percent := r.in.GirthPercent
	if percent == 0 {
		percent = 2.5
	}
	for _, m := range r.in.Measurements {
		if m.Old == nil || m.New == nil || m.Change == nil || *m.Old == 0 ||
			strings.Contains(m.Name, "contour") || !strings.Contains(m.Name, "girth") && m.Unit != "cm3" {
			continue
		}
		limit := percent / 100 * math.Abs(*m.Old)
		if m.Unit == "cm3" {
			limit *= 2 // a volume goes with the square of a girth
		}
		if m.Detectable != nil {
			limit = max(limit, *m.Detectable)
		}
		if d := math.Abs(*m.Change); d > limit {
			lines = append(lines, fmt.Sprintf("%s %.0f to %.0f %s", m.Name, *m.Old, *m.New, m.Unit))
			worst = max(worst, d/limit)
		}
	}
	return lines, worst
}
