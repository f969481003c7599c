package change

import (
	"fmt"

	"mien/asset"
	"mien/asset/terms"
	"mien/diff/result"
)

const (
	leastDyeCM2 = 30 // colour changed on this much hair is another colour of hair
	leastKitCM2 = 20 // the same for cloth
)

// findRecoloured reports hair and cloth of another colour and an unchanged place.
func findRecoloured(r *reading) []result.Finding {
	c := r.in.Colour
	if c == nil {
		return nil
	}
	anywhere := func(terms.Region) bool { return true }
	notHead := func(x terms.Region) bool { return !head(x) }
	var out []result.Finding
	for _, row := range []struct {
		kind  terms.ItemKind
		what  string
		class terms.Class
		at    place
		least float64
		sure  float64
	}{
		{terms.FacialHair, "facial hair", terms.HairClass, beard, leastDyeCM2 / 2, 0.6},
		{terms.Hair, "hair", terms.HairClass, hairOnHead, leastDyeCM2, 0.6},
		{terms.Accessory, "cloth on the head", terms.Cloth, head, leastKitCM2, 0.6},
		{terms.Kit, "kit", terms.Cloth, notHead, leastKitCM2, 0.4},
	} {
		var where areas
		var area, mean float64
		on := func(s *result.Spot, class uint8) bool {
			return s.Layer == result.Colour && terms.Class(class) == row.class && shareIn(s, row.at) > 0.5
		}
		for k := range c.Spots {
			if s := &c.Spots[k]; !r.usedColour[k] && on(s, c.Info[k].Class) {
				area += s.AreaCM2
				mean += s.AreaCM2 * s.Mean
				where.addSpot(s)
			}
		}
		if area < row.least {
			continue
		}
		out = append(out, result.Finding{
			Kind: string(row.kind), Action: string(terms.Altered), Region: where.largest(anywhere), AreaCM2: area,
			Confidence: confidence(row.sure, strength(area, row.least), strength(mean/area, 5)),
			Because:    []string{fmt.Sprintf("%.0f cm2 of %s of another colour, %.1f dE00 on average, in the same place", area, row.what, mean/area)},
			RuledOut:   []string{"light: ratio fitted on unchanged skin"},
			Spots:      r.claim(on),
		})
	}
	return out
}

// findTeeth reports any change on a scan of teeth.
func findTeeth(r *reading) []result.Finding {
	if r.in.New == nil || r.in.New.Part != asset.PartTeeth {
		return nil
	}
	var area float64
	for k := range r.in.Shape {
		area += r.in.Shape[k].AreaCM2
	}
	ids := r.claim(func(*result.Spot, uint8) bool { return true })
	if len(ids) == 0 {
		return nil
	}
	return []result.Finding{{
		Kind: string(terms.TeethItem), Action: string(terms.Altered), Region: terms.Teeth.String(), AreaCM2: area,
		Confidence: confidence(0.8, strength(float64(len(ids)), 1)),
		Because:    []string{fmt.Sprintf("%d changed places on the teeth", len(ids))}, RuledOut: []string{}, Spots: ids,
	}}
}
