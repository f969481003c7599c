package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// RegionAt returns the region of a point of the base surface (metres, rest pose: an anchor).
func (p Person) RegionAt(anchor [3]float32) terms.Region {
	return p.base.region(millimetres(anchor))
}

func millimetres(a [3]float32) mesh.Vec {
	return mesh.Vec{float64(a[0]) * 1000, float64(a[1]) * 1000, float64(a[2]) * 1000}
}

func (b *base) region(p mesh.Vec) terms.Region {
	g := &b.plan
	w := g.weights(p)
	q, right := p, terms.Region(0)
	if p[0] < 0 {
		q[0], right = -p[0], 1
	}
	switch seg := heaviest(w); seg {
	case terms.Head:
		return b.headRegion(g.head.local(q), right)
	case terms.ArmUpperLeft, terms.ArmUpperRight, terms.ArmLowerLeft, terms.ArmLowerRight, terms.PalmLeft, terms.PalmRight:
		return g.armRegion(seg, q) + right
	case terms.Trunk:
		return g.trunkRegion(q, right)
	default:
		return g.legRegion(seg, q) + right
	}
}

func (g *plan) armRegion(seg terms.Segment, q mesh.Vec) terms.Region {
	upper, lower := along(g.shoulder, g.elbow, q), along(g.elbow, g.wrist, q)
	switch {
	case seg >= terms.PalmLeft:
		return terms.HandLeft
	case lower > .87:
		return terms.WristLeft
	case lower > .13:
		return terms.ForearmLeft
	case upper > .86:
		return terms.ElbowLeft
	case upper > .2:
		return terms.UpperArmLeft
	}
	return terms.ShoulderLeft
}

func (g *plan) legRegion(seg terms.Segment, q mesh.Vec) terms.Region {
	upper, lower := along(g.hip, g.knee, q), along(g.knee, g.ankle, q)
	switch {
	case seg >= terms.SoleLeft:
		return terms.FootLeft
	case lower > .86:
		return terms.AnkleLeft
	case lower > .14 && q[2] > g.knee[2]+(g.ankle[2]-g.knee[2])*lower+2*g.unit:
		return terms.ShinLeft
	case lower > .14:
		return terms.CalfLeft
	case upper > .86:
		return terms.KneeLeft
	case upper < .16 && q[2] < -30*g.unit:
		return terms.ButtockLeft
	}
	return terms.ThighLeft
}

func (g *plan) trunkRegion(q mesh.Vec, right terms.Region) terms.Region {
	s := g.unit
	x, y, z := q[0]/s, 965+(q[1]-g.torso.at[1])/(s*g.trunk), q[2]/s
	front := z > -6
	switch {
	case y > 1532-.42*z && x < 92:
		if z > -22 {
			return terms.NeckFront
		}
		return terms.NeckBack
	case y > 1440 && x > 128:
		return terms.ShoulderLeft + right
	case front && y > 1262:
		return terms.Chest
	case front && y > 1020:
		return terms.Abdomen
	case front:
		return terms.Pelvis
	case y > 1240:
		return terms.BackUpper
	case y > 1035:
		return terms.BackLower
	case x < 4 && y < 900:
		return terms.Pelvis
	}
	return terms.ButtockLeft + right
}

// headRegion takes a point of the left half in the head's frame.
func (b *base) headRegion(h mesh.Vec, right terms.Region) terms.Region {
	x, y, z := h[0], h[1], h[2]
	w := 1 + .045*b.face.Width
	switch {
	case oval(y-earHeight+3, z+17, 36, 24) < 1 && x > 66*w+.25*(z+17):
		return terms.EarLeft + right
	case hairline(h) > 0:
		return terms.Scalp
	case z > 60 && y > 66 && y < 128 && x < 8.5+max(0, 122-y)*.23:
		return terms.Nose
	case z > 45 && oval(x-eyeApart-1.3*b.face.EyeSpacing, y-eyeHeight, 18, 10.5) < 1:
		return terms.EyeLeft + right
	case z > 30 && x > 7 && x < 56 && math.Abs(y-browArch(x)) < 8:
		return terms.BrowLeft + right
	case z > 55 && oval(x, y-mouthHeight, 28*(1+.06*b.face.MouthWidth), 12) < 1:
		return terms.Lips
	case z > 40 && y < 36 && x < 25:
		return terms.Chin
	case z > 8 && y > 132:
		return terms.Forehead
	case z < -34:
		return terms.NeckBack
	case z > 8 && y > 50+.32*(60-z):
		return terms.CheekLeft + right
	}
	return terms.JawLeft + right
}

// browArch is the height of the middle of the brow at a distance from the midline.
func browArch(x float64) float64 { return browHeight + 1 + 4*ramp(8, 34, x) - 5*ramp(36, 56, x) }

// oval is less than 1 within the ellipse of radii a and b.
func oval(x, y, a, b float64) float64 { return x*x/(a*a) + y*y/(b*b) }

// hairlineAt holds the height of the hairline in the head's frame, by azimuth from the front.
var hairlineAt = [...]struct{ deg, y float64 }{
	{0, 189}, {20, 190}, {38, 186}, {52, 172}, {64, 150}, {74, 112}, {84, 112}, {92, 140}, {108, 144}, {122, 112}, {138, 72}, {155, 56}, {180, 50},
}

// hairline is how far, in mm of the middle head, a point of the left half lies above the hairline.
func hairline(h mesh.Vec) float64 {
	deg := math.Atan2(math.Abs(h[0]), h[2]+8) * 180 / math.Pi
	i := 0
	for i < len(hairlineAt)-2 && deg > hairlineAt[i+1].deg {
		i++
	}
	a, b := hairlineAt[i], hairlineAt[i+1]
	return h[1] - lerp(a.y, b.y, ramp(a.deg, b.deg, deg))
}
