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
	armStart   = 0.10
	elbowFrom  = 0.385
	elbowTo    = 0.465
	wristFrom  = 0.715
	wristTo    = 0.775
	kneeFrom   = 0.255
	kneeTo     = 0.315
	ankleFrom  = 0.040
	ankleTo    = 0.070
	groinSlope = 0.7
	waistLow   = 0.545 // top of pelvis and buttocks
	waistHigh  = 0.650 // top of abdomen and lower back
	collar     = 0.800
	neckLow    = 0.825
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
	if p[1] < b.crotch+groinSlope*off-0.02*b.height && h < 0.56 {
		return b.legRegion(p, side)
	}
	front := p[2] > midZ
	switch {
	case h > neckLow && off < 0.055*b.height:
		if front {
			return terms.NeckFront
		}
		return terms.NeckBack
	case h > collar-0.03 && off > 0.55*half && off > 0.07*b.height:
		return pick(terms.ShoulderLeft)
	case h > waistHigh && front:
		return terms.Chest
	case h > waistHigh:
		return terms.BackUpper
	case h > waistLow && front:
		return terms.Abdomen
	case h > waistLow:
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
		z -= leg.c[2]
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
	case h > ankleFrom && z < 0.035*b.height:
		return pick(terms.AnkleLeft)
	}
	return pick(terms.FootLeft)
}
