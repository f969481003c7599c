package colour

import (
	"fmt"
	"math"

	"mien/asset/terms"
	"mien/asset/texture"
	"mien/diff/result"
	"mien/diff/skin"
	"mien/diff/surface"
)

// describe fills the layer's numbers, verdict and causes. k belongs to the new surface.
func describe(out *Output, k *ink, light *Light, s *sampling, texelM float64) {
	side := out.NewToOld
	f := side.Field
	var area, sum, missed, cloth float64
	var values []float64
	for i, ok := range side.Compared {
		w := float64(f.AreaM2[i])
		if !ok {
			if (terms.Class(f.Class[i]) == terms.Cloth) != (terms.Class(f.OnCls[i]) == terms.Cloth) && f.State[i] == surface.Unlike {
				cloth += w
			}
			if terms.Class(f.Class[i]) != terms.Stand {
				missed += w
			}
			continue
		}
		area += w
		sum += w * float64(side.DE00[i])
		values = append(values, float64(side.DE00[i]))
	}
	mean, p95 := sum/area, skin.Quantile(values, 0.95)
	residual, sun := tints(side, k)
	lit := lightDE00(light, s)
	out.Layer = result.ColourLayer{
		MeanDE00: &mean, P95DE00: &p95,
		UncoveredCM2: missed * 1e4, TexelMm: texelM * 1e3,
		Light: result.Light{Method: "ratio on skin, nine harmonics of the normal", ResidualDE00: &residual},
	}
	for _, spot := range out.Spots {
		out.Layer.ChangedAreaCM2 += spot.AreaCM2
	}
	switch {
	case residual > unlikeDE00:
		out.Verdict = result.CannotTell
		out.Reasons = append(out.Reasons, fmt.Sprintf("colour: the two lights differ by %.1f dE00 after normalising, allowed %.1f", residual, unlikeDE00))
	case len(out.Spots) > 0:
		out.Verdict = result.Changed
	default:
		out.Verdict = result.Same
	}
	if lit > 1.5 {
		out.Causes = append(out.Causes, result.CauseLight)
	}
	if sun {
		out.Causes = append(out.Causes, result.CauseTan)
	}
	if cloth*1e4 > clothCM2 {
		out.Causes = append(out.Causes, result.CauseCloth)
	}
}

// clothCM2 is the least area, covered by cloth on one scan only, that is named as a cause.
const clothCM2 = 20

// tints returns the mean slow shift that stayed on skin after the light was normalised, dE00, and
// whether exposed skin moved against covered skin the way sun moves it.
func tints(side *Side, k *ink) (residual float64, sun bool) {
	var sum, weight float64
	var shift, n [2]float64
	for i := 0; i < len(k.patch.Of); i += tintStep {
		p := k.patch.Of[i]
		if p < 0 || !skinLike(side.Field.Class[i]) {
			continue
		}
		w := float64(side.Field.AreaM2[i])
		a := side.ToLab[i]
		b := a
		for c := range b {
			b[c] += k.tint[p][c]
		}
		sum += w * texture.DE00(lab64(a), lab64(b))
		weight += w
		at := 0
		if exposed(terms.Region(side.Field.Region[i])) {
			at = 1
		}
		shift[at] += w * float64(k.tint[p][0])
		n[at] += w
	}
	if weight == 0 {
		return 0, false
	}
	if n[0] > 0 && n[1] > 0 {
		sun = math.Abs(shift[1]/n[1]-shift[0]/n[0]) > sunL
	}
	return sum / weight, sun
}

// tintStep thins the samples: a tint is the same over a patch of some thirty.
const tintStep = 8

// sunL is the least difference of lightness between exposed and covered skin that is put down to sun.
const sunL = 1.0

func exposed(r terms.Region) bool {
	switch r.Segment() {
	case terms.Head, terms.ArmLowerLeft, terms.ArmLowerRight, terms.PalmLeft, terms.PalmRight:
		return true
	}
	return r == terms.NeckFront || r == terms.NeckBack
}

// lightDE00 returns by how much the fitted light moves a middle skin colour, on average over the
// surface.
func lightDE00(light *Light, s *sampling) float64 {
	middle := [3]float32{0.42, 0.24, 0.17} // linear, a middle skin
	a := lab64(lab32(middle))
	step := max(1, s.field.Len()/500)
	var sum float64
	n := 0
	for i := 0; i < s.field.Len(); i += step {
		r := light.At(s.field.Normal[i], s.field.Pos[i])
		b := middle
		for c := range b {
			b[c] *= float32(math.Exp(r[c]))
		}
		sum += texture.DE00(a, lab64(lab32(b)))
		n++
	}
	return sum / float64(max(n, 1))
}
