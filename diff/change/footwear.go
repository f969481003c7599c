package change

import (
	"fmt"

	"mien/asset/terms"
	"mien/diff/result"
)

const (
	leastShoeCM2       = 60 // less shoe than this is no shoe
	leastShoeShapeCM2  = 15 // spots of shape on shoes that alter them
	leastShoeColourCM2 = 25 // spots of colour on shoes that alter them; patterned panels differ by less from atlas to atlas
)

// findFootwear reports a shoe put on, taken off or exchanged. A pair gives one finding, at the foot
// with more evidence.
func findFootwear(r *reading) []result.Finding {
	c := coverOf(r.in.NewToOld, r.in.OldToNew, terms.Shoe, bareUnder(terms.Shoe))
	anywhere := func(terms.Region) bool { return true }
	old, now := c.old.in(anywhere), c.new.in(anywhere)
	f := result.Finding{Kind: string(terms.Footwear), RuledOut: []string{}}
	onShoe := func(s *result.Spot, class uint8) bool {
		return terms.Class(class) == terms.Shoe || shareIn(s, foot) > 0.6 && terms.Class(class) != terms.Skin
	}
	switch {
	case old < leastShoeCM2 && now < leastShoeCM2:
		return nil
	case old < leastShoeCM2:
		f.Action, f.Region, f.AreaCM2 = string(terms.Added), c.new.largest(anywhere), now
		f.Because = []string{fmt.Sprintf("barefoot on the old scan, %.0f cm2 of shoe on the new one", now)}
		f.Confidence = confidence(strength(now, 20))
		f.Spots = r.claim(func(s *result.Spot, _ uint8) bool { return shareIn(s, foot) > 0.5 })
		return []result.Finding{f}
	case now < leastShoeCM2:
		f.Action, f.Region, f.AreaCM2 = string(terms.Removed), c.old.largest(anywhere), old
		f.Because = []string{fmt.Sprintf("%.0f cm2 of shoe on the old scan, barefoot on the new one", old)}
		f.Confidence = confidence(strength(old, 20))
		f.Spots = r.claim(func(s *result.Spot, _ uint8) bool { return shareIn(s, foot) > 0.5 })
		return []result.Finding{f}
	}
	var shape, colour float64
	var where areas
	var peak float64
	for k := range r.in.Shape {
		s := &r.in.Shape[k].Spot
		if !r.usedShape[k] && onShoe(s, r.shapeClass[k]) {
			shape += s.AreaCM2
			where.addSpot(s)
			peak = max(peak, s.Peak, -s.Peak)
		}
	}
	if r.in.Colour != nil {
		for k := range r.in.Colour.Spots {
			s := &r.in.Colour.Spots[k]
			if !r.usedColour[k] && onShoe(s, r.in.Colour.Info[k].Class) {
				colour += s.AreaCM2
				where.addSpot(s)
			}
		}
	}
	if shape < leastShoeShapeCM2 && colour < leastShoeColourCM2 {
		return nil
	}
	f.Action, f.Region, f.AreaCM2 = string(terms.Altered), where.largest(anywhere), max(shape, colour)
	if shape >= leastShoeShapeCM2 {
		f.Because = append(f.Because, fmt.Sprintf("shod on both scans, shape differs over %.0f cm2 of the shoes by up to %.1f mm", shape, peak))
	}
	if colour >= leastShoeColourCM2 {
		f.Because = append(f.Because, fmt.Sprintf("shod on both scans, colour differs over %.0f cm2 of the shoes", colour))
	}
	f.Confidence = confidence(max(strength(shape, leastShoeShapeCM2), strength(colour, leastShoeColourCM2)))
	f.Spots = r.claim(onShoe)
	return []result.Finding{f}
}
