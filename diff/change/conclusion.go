package change

import (
	"fmt"
	"strings"

	"mien/asset/terms"
	"mien/diff/result"
)

// phrase is how a kind of finding is said in the conclusion, by action: added, removed, altered.
var phrases = map[terms.ItemKind][3]string{
	terms.Tattoo:     {"new ink", "ink gone", "ink altered"},
	terms.Footwear:   {"shoes put on", "shoes taken off", "other shoes"},
	terms.Hair:       {"hair grown", "hair gone", "hair altered"},
	terms.FacialHair: {"facial hair grown", "facial hair gone", "facial hair altered"},
	terms.Accessory:  {"accessory put on", "accessory taken off", "accessory altered"},
	terms.SkinMark:   {"new skin mark", "skin mark gone", "skin mark altered"},
	terms.SkinTone:   {"skin tone altered", "skin tone altered", "skin tone altered"},
	terms.Physique:   {"build altered", "build altered", "build altered"},
	terms.TeethItem:  {"teeth altered", "teeth altered", "teeth altered"},
	terms.Kit:        {"kit put on", "kit taken off", "kit altered"},
}

func phrase(f *result.Finding) string {
	p, ok := phrases[terms.ItemKind(f.Kind)]
	if !ok {
		return f.Kind + " " + f.Action
	}
	switch terms.Action(f.Action) {
	case terms.Added:
		return p[0]
	case terms.Removed:
		return p[1]
	}
	return p[2]
}

// Conclusion says a finished comparison in one plain sentence, for example
//
//	Left forearm: new ink, 41 cm2; nothing else above 1.0 mm or 6 dE00; 210 cm2 could not be seen.
//
// toleranceDE00 is the least colour change that counted.
func Conclusion(r *result.Result, toleranceDE00 float64) string {
	var parts []string
	for i := range r.Findings {
		f := &r.Findings[i]
		s := phrase(f)
		if f.Region != "" {
			s = regionWords(f.Region) + ": " + s
		}
		if f.AreaCM2 > 0 {
			s += fmt.Sprintf(", %.0f cm2", f.AreaCM2)
		}
		parts = append(parts, s)
	}
	limits := limitsOf(r, toleranceDE00)
	loose := looseSpots(r)
	switch {
	case len(parts) == 0 && r.Verdict == result.CannotTell:
		parts = append(parts, "cannot tell: "+strings.Join(r.Reasons, ", "))
	case len(loose) > 0 && len(parts) > 0:
		parts = append(parts, fmt.Sprintf("%d more changed %s without a known cause, %.0f cm2", len(loose), plural("place", len(loose)), totalCM2(loose)))
	case len(loose) > 0:
		parts = append(parts, fmt.Sprintf("%d changed %s without a known cause, %.0f cm2, largest on the %s", len(loose), plural("place", len(loose)), totalCM2(loose), placeOf(loose)))
	case limits == "" && len(parts) == 0:
		parts = append(parts, "nothing was compared")
	case limits == "":
	case len(parts) == 0:
		parts = append(parts, "nothing above "+limits)
	default:
		parts = append(parts, "nothing else above "+limits)
	}
	if r.Shape != nil && r.Layers.Colour == result.NotCompared {
		parts = append(parts, "colour not compared")
	}
	if r.Shape != nil && r.Shape.UncoveredCM2 >= 1 {
		parts = append(parts, fmt.Sprintf("%.0f cm2 could not be seen", r.Shape.UncoveredCM2))
	}
	s := strings.Join(parts, "; ") + "."
	return strings.ToUpper(s[:1]) + s[1:]
}

// limitsOf names the limits of the layers that were judged.
func limitsOf(r *result.Result, toleranceDE00 float64) string {
	var out []string
	judged := func(v result.Verdict) bool { return v == result.Same || v == result.Changed }
	if r.Shape != nil && judged(r.Layers.Shape) {
		out = append(out, fmt.Sprintf("%.1f mm", max(r.Shape.ToleranceMm, r.Shape.DetectionLimitMm)))
	}
	if r.Colour != nil && judged(r.Layers.Colour) {
		out = append(out, fmt.Sprintf("%.0f dE00", toleranceDE00))
	}
	return strings.Join(out, " or ")
}

// leastTexels is how many texels of the coarser picture a patch of colour needs to count when nothing
// is known that it could be: compressed pictures err in patches of some texels. Common practice, no source.
const leastTexels = 36

// Faint reports whether a spot is a patch of colour too small for what the texels can tell. It is
// listed, and makes no change unless a finding says what it is.
func Faint(r *result.Result, s *result.Spot) bool {
	return s.Layer == result.Colour && r.Colour != nil && s.AreaCM2 < leastTexels*r.Colour.TexelMm*r.Colour.TexelMm/100
}

// looseSpots returns the spots that no finding names, without faint ones.
func looseSpots(r *result.Result) []*result.Spot {
	named := make(map[string]bool)
	for _, f := range r.Findings {
		for _, id := range f.Spots {
			named[id] = true
		}
	}
	var out []*result.Spot
	for i := range r.Spots {
		if !named[r.Spots[i].ID] && !Faint(r, &r.Spots[i]) {
			out = append(out, &r.Spots[i])
		}
	}
	return out
}

func totalCM2(spots []*result.Spot) float64 {
	s := 0.0
	for _, p := range spots {
		s += p.AreaCM2
	}
	return s
}

// placeOf names the region of the largest spot.
func placeOf(spots []*result.Spot) string {
	best := spots[0]
	for _, p := range spots[1:] {
		if p.AreaCM2 > best.AreaCM2 {
			best = p
		}
	}
	if len(best.Regions) == 0 {
		return "body"
	}
	return regionWords(best.Regions[0].Name)
}

// regionWords turns "forearm-left" into "left forearm" and "neck-front" into "neck (front)".
func regionWords(name string) string {
	for _, side := range []string{"left", "right"} {
		if base, ok := strings.CutSuffix(name, "-"+side); ok {
			return side + " " + strings.ReplaceAll(base, "-", " ")
		}
	}
	switch name {
	case "neck-front":
		return "front of the neck"
	case "neck-back":
		return "back of the neck"
	case "back-upper":
		return "upper back"
	case "back-lower":
		return "lower back"
	}
	return strings.ReplaceAll(name, "-", " ")
}

func plural(word string, n int) string {
	if n == 1 {
		return word
	}
	return word + "s"
}
