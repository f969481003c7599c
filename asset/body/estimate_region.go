package body

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// Where limbs and trunk are cut. Along the arm from the shoulder joint to the finger tips: the segment
// lengths .186, .146, .108 of stature by Drillis and Contini (from memory), with bands for the joints.
// Heights as shares of stature: knee .285, ankle .039 by the same; the rest is common practice.
const (
	armStart   = 0.08
	elbowFrom  = 0.355
	elbowTo    = 0.450
	wristFrom  = 0.705
	wristTo    = 0.755
	kneeFrom   = 0.250
	kneeTo     = 0.315
	ankleFrom  = 0.045
	ankleTo    = 0.078
	instep     = 0.7   // slope of the border between ankle and foot
	groin      = 0.507 // top of the thigh at the midline, rising outward
	groinSlope = 0.31
	seat       = 0.484 // lower edge of the buttock
	pelvisTop  = 0.551
	buttockTop = 0.560
	chestLow   = 0.682
	backLow    = 0.670
	shoulders  = 0.778
	neckLow    = 0.828 // at the neck's side, falling to the front
	neckSlope  = 0.42
)

// region returns the region of a point in the body's frame.
func (b *build) region(p mesh.Vec) terms.Region {
	h := p[1] / b.height
	if p[1] > b.head.split(p[2]) {
		return b.head.region(p)
	}
	side := 0
	if p[0] < b.midX {
		side = 1
	}
	pick := func(left terms.Region) terms.Region { return left + terms.Region(side) }
	if r, ok := b.armRegion(p, side); ok {
		return r
	}
	t := b.at(p[1]).trunk(b.midX)
	midZ, half := 0.0, 0.1*b.height
	if t != nil {
		midZ, half = (t.lo[2]+t.hi[2])/2, (t.hi[0]-t.lo[0])/2
	}
	off := math.Abs(p[0] - b.midX)
	front := p[2] > midZ
	if h < groin+groinSlope*off/b.height-0.015 {
		if h > seat && p[2] < midZ-0.02 {
			return pick(terms.ButtockLeft)
		}
		return b.legRegion(p, side)
	}
	switch {
	case h > neckLow-neckSlope*(p[2]-b.head.midZ+0.01)/b.height && off < 0.05*b.height:
		if p[2] > b.head.midZ-0.035 {
			return terms.NeckFront
		}
		return terms.NeckBack
	case h > shoulders && off > max(0.069*b.height, 0.45*half):
		return pick(terms.ShoulderLeft)
	case h > chestLow && front:
		return terms.Chest
	case h > backLow && !front:
		return terms.BackUpper
	case h > pelvisTop && front:
		return terms.Abdomen
	case h > buttockTop:
		return terms.BackLower
	case front:
		return terms.Pelvis
	}
	return pick(terms.ButtockLeft)
}

func (b *build) armRegion(p mesh.Vec, side int) (terms.Region, bool) {
	a := &b.arm[side]
	if !a.found {
		return 0, false
	}
	sign := 1.0 - 2*float64(side)
	s := p.Sub(a.shoulder).Dot(a.axis) / a.length
	if p[1] <= a.armpit[1] {
		i := min(max(int(math.Round(p[1]/b.stepM))-1, 0), len(a.near)-1)
		for i < len(a.near)-1 && math.IsNaN(a.near[i]) && s > 0.8 {
			i++ // below the last level of the hand
		}
		if math.IsNaN(a.near[i]) || sign*(p[0]-a.near[i]) < 0 {
			return 0, false
		}
	} else if s < armStart || sign*(p[0]-a.armpit[0]) < 0 {
		return 0, false
	}
	pick := func(left terms.Region) terms.Region { return left + terms.Region(side) }
	switch {
	case s < elbowFrom:
		return pick(terms.UpperArmLeft), true
	case s < elbowTo:
		return pick(terms.ElbowLeft), true
	case s < wristFrom:
		return pick(terms.ForearmLeft), true
	case s < wristTo:
		return pick(terms.WristLeft), true
	}
	return pick(terms.HandLeft), true
}

func (b *build) legRegion(p mesh.Vec, side int) terms.Region {
	h := p[1] / b.height
	pick := func(left terms.Region) terms.Region { return left + terms.Region(side) }
	var leg *flatLoop
	sl := b.at(max(p[1], ankleTo*b.height))
	for i := range sl.loops {
		l := &sl.loops[i]
		if (l.c[0] < b.midX) == (side == 1) && (leg == nil || l.area > leg.area) {
			leg = l
		}
	}
	z := p[2]
	if leg != nil {
		z -= leg.c[2] + 0.002*b.height
	}
	switch {
	case h > kneeTo:
		return pick(terms.ThighLeft)
	case h > kneeFrom:
		return pick(terms.KneeLeft)
	case h > ankleTo && z > 0:
		return pick(terms.ShinLeft)
	case h > ankleTo:
		return pick(terms.CalfLeft)
	case h > ankleFrom+instep*z/b.height:
		return pick(terms.AnkleLeft)
	}
	return pick(terms.FootLeft)
}
