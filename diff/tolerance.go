package diff

import (
	"math"

	"mien/asset"
	"mien/asset/body"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/diff/surface"
)

// allowance is what a sample may differ by for reasons of capture: what the meshes cannot resolve, and
// what remains about joints and ribs after posture was taken out.
type allowance struct {
	oldSag, newSag []float32
	joints         []turned
	breathMm       float64
	headOnly       bool // arms are not seen, so how they pull at the shoulders is not known
}

// turned is a joint that was turned back.
type turned struct {
	at     mesh.Vec
	leftMm float64 // what may remain beside it
}

// How much may remain. Common practice, no source; set on invented people of the tuning family, 8
// degrees of the shoulder and 4 mm of breath.
const (
	sagFactor    = 3   // features finer than the mesh err by more than their sag
	mmPerDegree  = 0.6 // beside a joint
	mostJointMm  = 5.0
	jointCoreMm  = 130.0 // the whole allowance holds up to here
	jointReachMm = 300.0 // and none beyond here
	unseenArmsMm = 4.0   // the trunk on a scan of the head alone
	tellMm       = 2.0   // an allowance from here on is said
	leastTurnDeg = 0.5
)

// allow prepares the allowance once posture is known.
func (c *comparison) allow() *allowance {
	a := &allowance{oldSag: c.detail.oldSide.SagMm(), newSag: c.detail.newSide.SagMm(), headOnly: c.new.Part == asset.PartHead}
	p := c.res.Posture
	if p == nil || !p.Removed {
		return a
	}
	if a.breathMm = math.Abs(p.BreathingMm); a.breathMm >= tellMm {
		c.reason("breathing: %.1f mm taken out; changes below %.1f mm on the rib cage are not told", a.breathMm, breathShare(terms.Chest)*a.breathMm)
	}
	joints, err := body.Joints(c.detail.Old)
	if err != nil {
		return a
	}
	for _, j := range joints {
		for _, q := range p.Joints {
			if d := math.Abs(q.Degrees); q.Name == j.Name && d >= leastTurnDeg {
				t := turned{j.At, min(mostJointMm, mmPerDegree*d)}
				a.joints = append(a.joints, t)
				if t.leftMm >= tellMm {
					c.reason("posture: %s turned by %.1f degrees; changes below %.1f mm within %.0f cm of it are not told", j.Name, d, t.leftMm, jointCoreMm/10)
				}
			}
		}
	}
	return a
}

// at returns the allowance in millimetres at sample i, whose From is the new mesh or the old one.
func (a *allowance) at(f *surface.Field, i int, onNew bool) float64 {
	from, to := a.oldSag, a.newSag
	if onNew {
		from, to = to, from
	}
	var sag float32
	for k := 0; k < 3; k++ {
		sag = max(sag, from[f.From.Tri[f.Tri[i]][k]], to[f.To.Tri[f.OnTri[i]][k]])
	}
	least := sagFactor * float64(sag)
	p := mesh.Vec{float64(f.Pos[i][0]), float64(f.Pos[i][1]), float64(f.Pos[i][2])}
	var left float64
	for _, j := range a.joints {
		fade := (jointReachMm - p.Sub(j.at).Len()*1000) / (jointReachMm - jointCoreMm)
		left = max(left, j.leftMm*min(1, fade))
	}
	if a.headOnly && onTrunk(terms.Region(f.Region[i])) {
		left = max(left, unseenArmsMm)
	}
	left = math.Hypot(left, a.breathMm*breathShare(terms.Region(f.Region[i])))
	return max(least, left)
}

// breathShare is how much of the breath taken out may remain or be overdone in a region: the rib cage of
// one person does not move quite as another's.
func breathShare(r terms.Region) float64 {
	switch r {
	case terms.Chest, terms.BackUpper:
		return 1.2
	case terms.BackLower, terms.Abdomen, terms.NeckFront, terms.NeckBack,
		terms.ShoulderLeft, terms.ShoulderRight, terms.UpperArmLeft, terms.UpperArmRight:
		return .5
	}
	return 0
}

// onTrunk reports whether a region lies below the neck on the trunk.
func onTrunk(r terms.Region) bool {
	return r.Segment() == terms.Trunk && r != terms.NoRegion && r != terms.NeckFront && r != terms.NeckBack
}

// classTolerance multiplies the tolerance by what the surface is made of: hair and cloth never lie the
// same way twice, and multi-view stereo fails on hair. Common practice, no source.
func classTolerance(class uint8) float64 {
	switch terms.Class(class) {
	case terms.HairClass, terms.Cloth:
		return 3
	case terms.Shoe:
		return 2
	}
	return 1
}

// stageFactor widens the tolerance when the two scans were processed to different stages: cleaning and
// fitting move surfaces by some tenths of a millimetre. Common practice, no source.
func (c *comparison) stageFactor() float64 {
	if c.otherStage() {
		return 1.5
	}
	return 1
}

func (c *comparison) otherStage() bool {
	return c.old.Stage != "" && c.new.Stage != "" && c.old.Stage != c.new.Stage
}
