package change

import (
	"fmt"
	"math"

	"mien/asset/terms"
	"mien/diff/colour"
	"mien/diff/result"
)

const (
	sameArtworkM = 0.03 // spots nearer than this belong to one artwork
	longArtworkM = 0.10 // the same for spots of one region that both lie beside ink that stayed
	leastKeptCM2 = 0.5  // ink that stayed, near the spots, that makes a change an alteration
	leastKept    = 0.15 // the same as a share of the changed area
	markWidthMm  = 6    // skin marks are narrow
	markCM2      = 4    // and small
	redder       = 0.6  // ink takes redness from skin, a mark adds it: least gain of a* for each lost L*
	markDE00     = 7.5  // and stand out more than a compressed image's chroma noise can
	stubbleCM2   = 12   // less dark skin than this on jaw and cheeks is no stubble
	stubbleDE00  = 18   // and it is fainter than this
)

// pixels says what a colour spot on skin looks like.
type pixels uint8

const (
	asInk pixels = iota
	asMark
	asBeard
	asNothing
)

// look sorts a colour spot on skin.
func look(s *result.Spot, info *colour.SpotInfo) pixels {
	darker := info.Delta[0] < 0
	switch {
	case shareIn(s, features) > 0.5, shareIn(s, scalp) > 0.6 && s.Mean < stubbleDE00, info.BesideHidden > 0.5:
		return asNothing
	case shareIn(s, beard) > 0.6 && s.Mean < stubbleDE00 && len(s.Regions) > 1:
		return asBeard
	case !darker, info.Delta[1] > redder*math.Abs(info.Delta[0]):
		if s.AreaCM2 <= markCM2 && info.WidthMm <= markWidthMm {
			if s.Mean < markDE00 {
				return asNothing
			}
			return asMark
		}
		if !darker && math.Hypot(info.Delta[1], info.Delta[2]) < 8 {
			return asNothing
		}
	}
	return asInk
}

// findSkin reports ink, skin marks and stubble from the colour spots on bare skin. A spot says that
// its own scan shows what the other, equally bare, does not.
func findSkin(r *reading) []result.Finding {
	c := r.in.Colour
	if c == nil {
		return nil
	}
	kind := make([]pixels, len(c.Spots))
	for k := range c.Spots {
		kind[k] = asNothing
		if class := terms.Class(c.Info[k].Class); !r.usedColour[k] && (class == terms.Skin || class == terms.ClassUnknown) {
			kind[k] = look(&c.Spots[k], &c.Info[k])
		}
	}
	out := r.stubble(kind)
	for k := range c.Spots {
		switch {
		case r.usedColour[k] || kind[k] == asNothing || kind[k] == asBeard:
		case kind[k] == asMark:
			out = append(out, r.mark(k))
		default:
			out = append(out, r.artwork(k, kind))
		}
	}
	return out
}

// gather collects into one group the unused spots of a kind that belong with first or with each
// other, and marks them as used.
func (r *reading) gather(first int, want pixels, kind []pixels) []int {
	c := r.in.Colour
	group := []int{first}
	r.usedColour[first] = true
	for at := 0; at < len(group); at++ {
		for k := range c.Spots {
			if !r.usedColour[k] && kind[k] == want && r.oneArtwork(group[at], k) {
				r.usedColour[k] = true
				group = append(group, k)
			}
		}
	}
	return group
}

// oneArtwork reports whether two colour spots are pieces of one artwork: close together, or of one
// region and both beside ink that stayed.
func (r *reading) oneArtwork(a, b int) bool {
	c := r.in.Colour
	gap := gapM(&c.Spots[a], &c.Spots[b])
	if gap < sameArtworkM {
		return true
	}
	return gap < longArtworkM && c.Info[a].KeptCM2 >= leastKeptCM2 && c.Info[b].KeptCM2 >= leastKeptCM2 &&
		mainRegion(&c.Spots[a]) == mainRegion(&c.Spots[b])
}

func mainRegion(s *result.Spot) string {
	if len(s.Regions) == 0 {
		return ""
	}
	return s.Regions[0].Name
}

// gapM is the distance of two spots' bounding boxes.
func gapM(a, b *result.Spot) float64 {
	s := 0.0
	for k := range 3 {
		d := max(a.BoundsM[0][k]-b.BoundsM[1][k], b.BoundsM[0][k]-a.BoundsM[1][k], 0)
		s += d * d
	}
	return math.Sqrt(s)
}

// artwork is the finding of the artwork that spot k belongs to.
func (r *reading) artwork(k int, kind []pixels) result.Finding {
	c := r.in.Colour
	group := r.gather(k, asInk, kind)
	var gained, lost, kept, mean, area float64
	var where areas
	f := result.Finding{Kind: string(terms.Tattoo), Spots: []string{}}
	for _, g := range group {
		s, info := &c.Spots[g], &c.Info[g]
		if info.OnNew {
			gained += s.AreaCM2
		} else {
			lost += s.AreaCM2
		}
		area += s.AreaCM2
		kept += info.KeptCM2
		mean += s.AreaCM2 * s.Mean
		where.addSpot(s)
		f.Spots = append(f.Spots, s.ID)
	}
	mean /= area
	f.Region = where.largest(func(terms.Region) bool { return true })
	less := min(gained, lost)
	switch {
	case kept >= max(leastKeptCM2, leastKept*area) && less == 0:
		f.Action, f.AreaCM2 = string(terms.Altered), max(gained, lost)
		scan := "new"
		if lost > 0 {
			scan = "old"
		}
		f.Because = append(f.Because, fmt.Sprintf("%.1f cm2 of ink beside ink that is on both scans, on the %s scan only", area, scan))
	case less > 0.2*max(gained, lost):
		f.Action, f.AreaCM2 = string(terms.Altered), gained
		f.Because = append(f.Because, fmt.Sprintf("%.1f cm2 of ink on the new scan only beside %.1f cm2 on the old scan only", gained, lost))
	case gained > lost:
		f.Action, f.AreaCM2 = string(terms.Added), gained
		f.Because = append(f.Because, fmt.Sprintf("%.1f cm2 of ink on the new scan, bare skin there on the old one", gained))
	default:
		f.Action, f.AreaCM2 = string(terms.Removed), lost
		f.Because = append(f.Because, fmt.Sprintf("%.1f cm2 of ink on the old scan, bare skin there on the new one", lost))
	}
	f.Because = append(f.Because, fmt.Sprintf("mean difference %.1f dE00", mean))
	f.RuledOut = r.ruledOutOnSkin()
	f.Confidence = confidence(strength(f.AreaCM2, 1), strength(mean, 3))
	return f
}

// mark is the finding of a narrow paler or redder line.
func (r *reading) mark(k int) result.Finding {
	s, info := &r.in.Colour.Spots[k], &r.in.Colour.Info[k]
	r.usedColour[k] = true
	var where areas
	where.addSpot(s)
	f := result.Finding{Kind: string(terms.SkinMark), Action: string(terms.Removed), AreaCM2: s.AreaCM2,
		Region: where.largest(func(terms.Region) bool { return true }), Spots: []string{s.ID}, RuledOut: r.ruledOutOnSkin()}
	scan := "old"
	if info.OnNew {
		f.Action, scan = string(terms.Added), "new"
	}
	tone := "paler"
	if info.Delta[1] > math.Abs(info.Delta[0]) {
		tone = "redder"
	}
	f.Because = []string{fmt.Sprintf("a narrow line %s than the skin around it, about %.0f mm wide, on the %s scan only", tone, info.WidthMm, scan)}
	f.Confidence = confidence(0.6, strength(s.Mean, 4))
	return f
}

// stubble is the finding of darkened skin on jaw, cheeks and lips, one for the whole face.
func (r *reading) stubble(kind []pixels) []result.Finding {
	c := r.in.Colour
	var side [2]float64
	for k := range c.Spots {
		if kind[k] == asBeard {
			side[index(c.Info[k].OnNew)] += c.Spots[k].AreaCM2
		}
	}
	more := index(side[1] >= side[0])
	if side[more] < stubbleCM2 {
		for k := range kind {
			if kind[k] == asBeard {
				kind[k] = asInk
			}
		}
		return nil
	}
	f := result.Finding{Kind: string(terms.FacialHair), Action: string(terms.Removed), Spots: []string{}, RuledOut: r.ruledOutOnSkin()}
	scan := "old"
	if more == 1 {
		f.Action, scan = string(terms.Added), "new"
	}
	var mean float64
	for k := range c.Spots {
		if kind[k] != asBeard {
			continue
		}
		r.usedColour[k] = true
		f.Spots = append(f.Spots, c.Spots[k].ID)
		if index(c.Info[k].OnNew) == more {
			f.AreaCM2 += c.Spots[k].AreaCM2
			mean += c.Spots[k].AreaCM2 * c.Spots[k].Mean
		}
	}
	f.Region = terms.Chin.String()
	f.Because = []string{fmt.Sprintf("%.0f cm2 of cheeks, jaw and chin darker by %.1f dE00 on the %s scan, no change of shape", f.AreaCM2, mean/f.AreaCM2, scan)}
	f.Confidence = confidence(strength(f.AreaCM2, stubbleCM2/2), strength(mean/f.AreaCM2, 3))
	return []result.Finding{f}
}

func index(b bool) int {
	if b {
		return 1
	}
	return 0
}

// ruledOutOnSkin names the causes that were excluded for a colour spot on skin, and how.
func (r *reading) ruledOutOnSkin() []string {
	out := []string{}
	if res := r.in.Colour.Layer.Light.ResidualDE00; res != nil {
		out = append(out, fmt.Sprintf("light: ratio fitted on unchanged skin, %.1f dE00 remained", *res))
	}
	return append(out,
		"tan: the colour of the skin around was taken out",
		"slip: best match within 3 mm",
		"cloth: bare skin on both scans")
}
