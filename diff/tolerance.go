package diff

import (
	"math"

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
}

// turned is a joint that was turned back.
type turned struct {
	at      mesh.Vec
	leftMm  float64 // what may remain beside it
	reachMm float64
}

// How much may remain. Common practice, no source; set on invented people of the tuning family, 8
// degrees of the shoulder and 4 mm of breath.
const (
	sagFactor    = 3   // features finer than the mesh err by more than their sag
	mmPerDegree  = 0.6 // beside a joint
	mostJointMm  = 5.0
	jointReachMm = 250.0
	breathShare  = 0.5 // of the breath taken out
	leastTurnDeg = 0.5
)

// allow prepares the allowance once posture is known.
func (c *comparison) allow() *allowance {
	a := &allowance{oldSag: c.detail.oldSide.SagMm(), newSag: c.detail.newSide.SagMm()}
	p := c.res.Posture
	if p == nil || !p.Removed {
		return a
	}
	a.breathMm = breathShare * math.Abs(p.BreathingMm)
	joints, err := body.Joints(c.detail.Old)
	if err != nil {
		return a
	}
	for _, j := range joints {
		for _, q := range p.Joints {
			if d := math.Abs(q.Degrees); q.Name == j.Name && d >= leastTurnDeg {
				a.joints = append(a.joints, turned{j.At, min(mostJointMm, mmPerDegree*d), jointReachMm})
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
		left = max(left, j.leftMm*(1-p.Sub(j.at).Len()*1000/j.reachMm))
	}
	if a.breathMm > 0 && breathes(terms.Region(f.Region[i])) {
		left += a.breathMm
	}
	return max(least, left)
}

// breathes reports whether a region moves with the rib cage.
func breathes(r terms.Region) bool {
	switch r {
	case terms.Chest, terms.BackUpper, terms.BackLower, terms.Abdomen, terms.NeckFront, terms.NeckBack,
		terms.ShoulderLeft, terms.ShoulderRight, terms.UpperArmLeft, terms.UpperArmRight:
		return true
	}
	return false
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
