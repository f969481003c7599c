package body

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// headFrame places the parts of a head by fractions: v from 0 at the chin to 1 at the crown, u across
// from the midline in half breadths, and the direction round the vertical from the front.
type headFrame struct {
	chin, crown float64 // heights
	midX, midZ  float64
	halfX       float64 // half the breadth
	front, back float64 // z of the brow and of the occiput
}

// split returns the height above which a point at depth z belongs to the head rather than the neck: the
// border rises from the chin to the lower edge of the skull behind.
func (f *headFrame) split(z float64) float64 {
	h := f.crown - f.chin
	t := min(max((f.front-z)/(f.front-f.back), 0), 1)
	return f.chin - 0.02*h + t*0.22*h
}

// region returns the part of the head at p. The fractions are an artist's canon (eyes half way up,
// nose and hairline at thirds of the face): common practice, no source.
func (f *headFrame) region(p mesh.Vec) terms.Region {
	v := (p[1] - f.chin) / (f.crown - f.chin)
	x := (p[0] - f.midX) / f.halfX
	u := math.Abs(x)
	side := 0
	if x < 0 {
		side = 1
	}
	pick := func(left terms.Region) terms.Region { return left + terms.Region(side) }
	depth := (p[2] - f.midZ) / (f.front - f.midZ) // 1 at the brow, 0 at the ear
	azimuth := math.Atan2(u*f.halfX, p[2]-f.midZ) * 180 / math.Pi
	switch {
	case u > 0.88 && v > 0.31 && v < 0.61 && depth < 0.25 && depth > -0.28:
		return pick(terms.EarLeft)
	case v > hairline(azimuth):
		return terms.Scalp
	case azimuth > 112:
		return terms.NeckBack
	case v > 0.60:
		return terms.Forehead
	case v > 0.54 && u > 0.08:
		return pick(terms.BrowLeft)
	case v > 0.45 && u > 0.17 && u < 0.72 && depth > 0.5:
		return pick(terms.EyeLeft)
	case v > 0.29 && u < 0.24 && depth > 0.5:
		return terms.Nose
	case v > 0.16 && v <= 0.29 && u < 0.36 && depth > 0.5:
		return terms.Lips
	case v <= 0.16 && u < 0.36 && depth > 0.4:
		return terms.Chin
	case v > 0.22 && depth > 0.3:
		return pick(terms.CheekLeft)
	}
	return pick(terms.JawLeft)
}

// hairlineAt holds the height of the usual hairline by azimuth from the front. Common practice, no source.
var hairlineAt = [...][2]float64{
	{0, 0.79}, {40, 0.77}, {64, 0.62}, {76, 0.47}, {86, 0.47}, {95, 0.59}, {110, 0.58}, {125, 0.45}, {140, 0.30}, {180, 0.21},
}

func hairline(azimuth float64) float64 {
	i := 1
	for i < len(hairlineAt)-1 && azimuth > hairlineAt[i][0] {
		i++
	}
	a, b := hairlineAt[i-1], hairlineAt[i]
	t := (azimuth - a[0]) / (b[0] - a[0])
	return a[1] + t*(b[1]-a[1])
}

// findHead sets the head's frame of a body: the neck is the narrowest level between the shoulders and
// the head, the chin lies where the front steps out above it.
func (b *build) findHead() {
	neck, width := 0.84*b.height, math.Inf(1)
	for _, s := range b.slices {
		if s.y < 0.80*b.height || s.y > 0.89*b.height {
			continue
		}
		if t := s.trunk(b.midX); t != nil && t.hi[0]-t.lo[0] < width {
			neck, width = s.y, t.hi[0]-t.lo[0]
		}
	}
	f := headFrame{crown: b.height}
	f.fill(neck, func(y float64) *flatLoop { return b.at(y).trunk(b.midX) })
	b.head, b.neckTop = f, f.chin
}

// fill measures the frame from level loops above the neck.
func (f *headFrame) fill(neck float64, loop func(y float64) *flatLoop) {
	h := f.crown - neck
	f.chin = neck + 0.05*h
	if l := loop(neck); l != nil {
		for t := 0.0; t < 0.45; t += 0.04 { // the chin is where the front lies well before the throat
			if k := loop(neck + t*h); k != nil && k.hi[2] > l.hi[2]+0.018 {
				f.chin = neck + max(t-0.03, 0)*h
				break
			}
		}
	}
	face := f.crown - f.chin
	if l := loop(f.chin + 0.62*face); l != nil {
		f.midX, f.midZ = (l.lo[0]+l.hi[0])/2, (l.lo[2]+l.hi[2])/2
		f.halfX, f.front, f.back = (l.hi[0]-l.lo[0])/2, l.hi[2], l.lo[2]
		return
	}
	f.midZ, f.halfX, f.front, f.back = 0, 0.36*face, 0.45*face, -0.45*face
}
