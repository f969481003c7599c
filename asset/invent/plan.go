package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// plan is where the landmarks of one person lie, in millimetres in rest pose: arms 40 degrees off
// the body, feet a little apart. Side landmarks are those of the left; the right mirrors them.
//
// The middle person is 1850 mm tall. Lengths of segments are near the fractions of stature of
// Drillis and Contini 1966 (from memory): hip .53, knee .285, ankle .045, upper arm .17, forearm .145.
type plan struct {
	unit  float64 // mm of this person for a mm of the middle person
	b     Build
	trunk float64 // trunk length against the middle person's

	hip, knee, ankle        mesh.Vec
	shoulder, elbow, wrist  mesh.Vec
	knuckle                 mesh.Vec // middle of the hand's far end
	neck                    mesh.Vec // turning point of the head
	head, hand, foot, torso frame
	elbowPlane, kneePlane   mesh.Vec // unit normals of the planes that part the segments
}

func newPlan(p Person) plan {
	b := p.Build
	s := p.HeightM * 1000 / 1850
	g := plan{unit: s, b: b}
	hipY, chinY := 965*b.LegLength, 1850-240*b.Head
	g.trunk = (chinY - hipY) / (1610 - 965)
	g.torso = frame{at: mesh.Vec{0, s * hipY, 0}, axis: upright, scale: s}
	at := func(x, y, z float64) mesh.Vec { return mesh.Vec{s * x, s * y, s * z} }

	g.hip = at(90*b.Hip, hipY, -5)
	g.knee = at(90*b.Hip+22, 522*b.LegLength, 4)
	g.ankle = at(90*b.Hip+42, 84*math.Sqrt(b.Foot), -22)
	g.shoulder = at(181*b.Shoulder, hipY+(1500-965)*g.trunk, -18)
	upper := direction(41, -4)
	lower := direction(35, 12)
	g.elbow = g.shoulder.Add(upper.Scale(s * 303 * b.ArmLength))
	g.wrist = g.elbow.Add(lower.Scale(s * 262 * b.ArmLength))
	g.elbowPlane = upper.Add(lower).Unit()
	g.kneePlane = g.knee.Sub(g.hip).Unit().Add(g.ankle.Sub(g.knee).Unit()).Unit()
	g.knuckle = g.wrist.Add(lower.Scale(s * 95 * b.Hand))
	g.neck = at(0, chinY+28*b.Head, -8)

	g.head = frame{at: at(0, chinY, 12), axis: upright, scale: s * b.Head}
	// The hand's own axes: x the thickness, out of the back of the hand; y along; z to the thumb.
	along := lower
	thumb := mesh.Vec{-.1, 0, 1}
	thumb = thumb.Sub(along.Scale(thumb.Dot(along))).Unit()
	g.hand = frame{at: g.wrist, axis: [3]mesh.Vec{thumb.Cross(along), along, thumb}, scale: s * b.Hand}
	// The foot's own axes: x outward, y up, z forward; its origin is on the floor below the ankle.
	turn := math.Pi / 180 * 9
	g.foot = frame{at: mesh.Vec{g.ankle[0], 0, g.ankle[2]}, scale: s * b.Foot,
		axis: [3]mesh.Vec{{math.Cos(turn), 0, -math.Sin(turn)}, {0, 1, 0}, {math.Sin(turn), 0, math.Cos(turn)}}}
	return g
}

// direction is the unit vector that points down, tilted outward and forward by degrees.
func direction(outDeg, frontDeg float64) mesh.Vec {
	o, f := outDeg*math.Pi/180, frontDeg*math.Pi/180
	return mesh.Vec{math.Sin(o) * math.Cos(f), -math.Cos(o) * math.Cos(f), math.Sin(f)}
}

// trunkPoint maps a point of the middle person's trunk and neck.
func (g *plan) trunkPoint(x, y, z float64) mesh.Vec {
	return mesh.Vec{g.unit * x, g.torso.at[1] + g.unit*(y-965)*g.trunk, g.unit * z}
}

// JointPoint is the centre of a joint in rest pose, in metres.
type JointPoint struct {
	Segment terms.Segment // the segment that turns about it
	At      mesh.Vec
}

// Joints returns the joint centres of the rest pose in order of segments, without the trunk, which
// is the root.
func (p Person) Joints() []JointPoint {
	var out []JointPoint
	for s := terms.Head; s < terms.SegmentCount; s++ {
		out = append(out, JointPoint{s, p.base.plan.joint(s).Scale(.001)})
	}
	return out
}

// joint returns the turning point of a segment in mm.
func (g *plan) joint(s terms.Segment) mesh.Vec {
	var c mesh.Vec
	switch s {
	case terms.Head:
		return g.neck
	case terms.ArmUpperLeft, terms.ArmUpperRight:
		c = g.shoulder
	case terms.ArmLowerLeft, terms.ArmLowerRight:
		c = g.elbow
	case terms.PalmLeft, terms.PalmRight:
		c = g.wrist
	case terms.LegUpperLeft, terms.LegUpperRight:
		c = g.hip
	case terms.LegLowerLeft, terms.LegLowerRight:
		c = g.knee
	case terms.SoleLeft, terms.SoleRight:
		c = g.ankle
	default:
		return mesh.Vec{}
	}
	if isRight(s) {
		c[0] = -c[0]
	}
	return c
}

// isRight reports whether a segment is one of the right side.
func isRight(s terms.Segment) bool { return s >= terms.ArmUpperLeft && (s-terms.ArmUpperLeft)%2 == 1 }
