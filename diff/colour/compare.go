package colour

import (
	"context"
	"fmt"
	"math"

	"mien/asset"
	"mien/asset/near"
	"mien/asset/scan"
	"mien/asset/terms"
	"mien/asset/texture"
	"mien/diff/result"
	"mien/diff/surface"
)

const (
	// matchM is how far apart the two sides of a pair may truly lie after slip has been taken out:
	// each sample is compared with the best colour within this distance.
	matchM = 0.003
	// leastSlipMm is the slip of the skin that is named as a cause.
	leastSlipMm = 2.0
	// tintDE is the most that tan and shading left over by [Light] may move skin, dEab; a slow
	// shift up to this size is taken out, one of twice this size counts as change.
	// Two weeks of sun move face and hands by 3.6 to 3.9 dEab (Vision Res. 192:107976, 2022).
	tintDE = 4.0
	// unlikeDE00 is the residual tint above which the two lights cannot be brought together.
	unlikeDE00 = 6.0
)

// Compare compares base colours both ways. It never fails for want of a texture: then the verdict is
// [result.NotCompared] and Layer.WhyNot says why. It returns ctx's error when cancelled.
//
// Method: both textures are sampled in linear light, low-passed to the coarser texel or the spacing of
// the samples; the light's ratio is fitted on skin seen in both; both sides are brought halfway to
// each other, so that exchanging old and new exchanges the two directions and nothing else. Slow
// tints up to 4 dEab are taken out around each sample, samples that still differ are compared with the
// best match within 3 mm, and small slips of the skin are taken out where they explain what differs.
// Changed samples that agree on what changed form the spots.
//
// Limits: ink narrower than the coarser texel fades with its share of it; a change of the whole skin
// by up to 4 dEab is taken for tan or light; both sides of a shoe or garment must lie within the
// pairing distance.
func Compare(ctx context.Context, in Input) (*Output, error) {
	opt := in.Options.filled()
	out := &Output{Verdict: result.NotCompared}
	if why := whyNot(in); why != "" {
		out.Layer.WhyNot = why
		return out, nil
	}
	oldTexel := texelSide(in.Old.Mesh, in.Old.BaseColor)
	newTexel := texelSide(in.New.Mesh, in.New.BaseColor)
	texelM := max(oldTexel, newTexel)
	if oldTexel == 0 || newTexel == 0 {
		out.Layer.WhyNot = "no texture coordinates with a base colour"
		return out, nil
	}

	newSide, err := newSampling(ctx, in.NewToOld, in.New, in.Old, texelM)
	if err != nil {
		return nil, err
	}
	oldSide, err := newSampling(ctx, in.OldToNew, in.Old, in.New, texelM)
	if err != nil {
		return nil, err
	}
	if newSide.count() == 0 || oldSide.count() == 0 {
		out.Layer.WhyNot = "no surface with a base colour was seen in both scans"
		return out, nil
	}
	light, err := fitLight(ctx, append(newSide.ratios(nil, 1), oldSide.ratios(nil, -1)...))
	if err != nil {
		return nil, err
	}
	var sides [2]*Side
	var detail [2]*ink
	for k, from := range []*sampling{newSide, oldSide} {
		if sides[k], err = from.tone(ctx, &light, 1-2*float64(k)); err != nil {
			return nil, err
		}
		if detail[k], err = newInk(ctx, sides[k], float32(min(2, opt.ToleranceDE00/2))); err != nil {
			return nil, err
		}
	}
	slipMm, err := takeSlipOut(ctx, detail, opt)
	if err != nil {
		return nil, err
	}
	out.NewToOld, out.OldToNew = sides[0], sides[1]
	for k, d := range detail {
		if err := addSpots(ctx, out, d, k == 0, opt); err != nil {
			return nil, err
		}
	}
	describe(out, detail[0], &light, newSide, texelM)
	if slipMm >= leastSlipMm {
		out.Causes = append(out.Causes, result.CauseSlip)
	}
	return out, nil
}

// whyNot returns the reason that colour cannot be compared at all, "" when it can.
func whyNot(in Input) string {
	switch {
	case in.Old == nil || in.New == nil || in.NewToOld == nil || in.OldToNew == nil:
		return "no paired surface"
	case !hasColour(in.Old) && !hasColour(in.New):
		return "neither scan has a base colour"
	case !hasColour(in.Old):
		return "the old scan has no base colour"
	case !hasColour(in.New):
		return "the new scan has no base colour"
	}
	known := func(l asset.Light) bool { return l != "" && l != asset.LightUnknown }
	if a, b := in.Old.Light, in.New.Light; known(a) && known(b) && a != b {
		return fmt.Sprintf("unlike lights: old %s, new %s", a, b)
	}
	return ""
}

func hasColour(s *scan.Scan) bool {
	for _, im := range s.BaseColor {
		if im != nil {
			return true
		}
	}
	return false
}

// sampling is one direction before the light is known: linear light at each sample and its partner.
type sampling struct {
	field    *surface.Field
	compared []bool
	from, to [][3]float32
}

func newSampling(ctx context.Context, f *surface.Field, from, to *scan.Scan, texelM float64) (*sampling, error) {
	s := &sampling{field: f, compared: make([]bool, f.Len())}
	for i := range s.compared {
		s.compared[i] = f.State[i] == surface.Seen && comparable(f.Class[i], f.OnCls[i])
	}
	footprint := max(texelM, spacing(f))
	var err error
	if s.from, err = sampleAll(ctx, f.From, from.BaseColor, f.Tri, f.Bary, footprint, s.compared); err != nil {
		return nil, err
	}
	s.to, err = sampleAll(ctx, f.To, to.BaseColor, f.OnTri, f.OnBary, footprint, s.compared)
	return s, err
}

// comparable reports whether colours of two classes of surface may be compared.
func comparable(a, b uint8) bool {
	if terms.Class(a) == terms.Stand || terms.Class(b) == terms.Stand {
		return false
	}
	return a == b || a == uint8(terms.ClassUnknown) || b == uint8(terms.ClassUnknown)
}

// spacing returns the mean spacing of a field's samples in metres.
func spacing(f *surface.Field) float64 {
	if f.Len() == 0 {
		return 0
	}
	area := 0.0
	for _, a := range f.AreaM2 {
		area += float64(a)
	}
	return math.Sqrt(area / float64(f.Len()))
}

func (s *sampling) count() int {
	n := 0
	for _, c := range s.compared {
		if c {
			n++
		}
	}
	return n
}

// skinLike reports whether a class shows the session's light on skin.
func skinLike(class uint8) bool {
	return terms.Class(class) == terms.Skin || terms.Class(class) == terms.ClassUnknown
}

// ratios appends at most about 20,000 observations of the light on skin. sign is 1 when the field
// runs from new to old.
func (s *sampling) ratios(out []ratio, sign float64) []ratio {
	step := max(1, s.count()/20000)
	k := 0
	for i, ok := range s.compared {
		if !ok || !skinLike(s.field.Class[i]) {
			continue
		}
		if k++; k%step != 0 {
			continue
		}
		o := ratio{normal: s.field.Normal[i], pos: s.field.Pos[i]}
		for c := range o.log {
			o.log[c] = sign * (logOf(s.from[i][c]) - logOf(s.to[i][c]))
		}
		out = append(out, o)
	}
	return out
}

// logOf is the logarithm of linear light, floored at half a step of 8-bit sRGB above black.
func logOf(v float32) float64 { return math.Log(max(float64(v), 1.5e-4)) }

// tone brings both sides into the mean light. sign is 1 when the field runs from new to old.
func (s *sampling) tone(ctx context.Context, light *Light, sign float64) (*Side, error) {
	f := s.field
	n := f.Len()
	side := &Side{Field: f, Compared: s.compared, DE00: make([]float32, n), Spot: make([]int32, n),
		FromLab: make([][3]float32, n), ToLab: make([][3]float32, n)}
	near.Share(ctx, n, 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			side.Spot[i] = -1
			if !s.compared[i] {
				continue
			}
			r := light.At(f.Normal[i], f.Pos[i])
			a, b := s.from[i], s.to[i]
			for c := range r {
				g := float32(math.Exp(sign * r[c] / 2))
				a[c] /= g
				b[c] *= g
			}
			side.FromLab[i], side.ToLab[i] = lab32(a), lab32(b)
		}
	})
	return side, ctx.Err()
}

func lab32(rgb [3]float32) [3]float32 {
	l := texture.LabFromLinear(rgb)
	return [3]float32{float32(l[0]), float32(l[1]), float32(l[2])}
}

func lab64(c [3]float32) texture.Lab {
	return texture.Lab{float64(c[0]), float64(c[1]), float64(c[2])}
}

// asTint keeps what of a slow shift can be tan or light: all of it up to tintDE, then less and less,
// nothing from twice as much on, which only hair, paint or wide ink can be.
func asTint(v [3]float32) [3]float32 {
	d := float64(distance(v, [3]float32{}))
	keep := float32(min(1, max(0, 2-d/tintDE)))
	return [3]float32{keep * v[0], keep * v[1], keep * v[2]}
}

func distance(a, b [3]float32) float32 {
	x, y, z := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return float32(math.Sqrt(float64(x*x + y*y + z*z)))
}
