package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// rigid is p -> turn*p + move, in mm; turn holds rows.
type rigid struct {
	turn [3]mesh.Vec
	move mesh.Vec
}

var still = rigid{turn: upright}

func (r *rigid) point(p mesh.Vec) mesh.Vec { return r.dir(p).Add(r.move) }

func (r *rigid) dir(p mesh.Vec) mesh.Vec {
	return mesh.Vec{r.turn[0].Dot(p), r.turn[1].Dot(p), r.turn[2].Dot(p)}
}

// after is the motion a, then r.
func (r rigid) after(a rigid) rigid {
	var out rigid
	for i, row := range r.turn {
		for k := range row {
			out.turn[i][k] = row[0]*a.turn[0][k] + row[1]*a.turn[1][k] + row[2]*a.turn[2][k]
		}
	}
	out.move = r.point(a.move)
	return out
}

// turnAbout turns by degrees about the unit axis through c (Rodrigues).
func turnAbout(c, axis mesh.Vec, degrees float64) rigid {
	s, k := math.Sincos(degrees * math.Pi / 180)
	v := 1 - k
	x, y, z := axis[0], axis[1], axis[2]
	r := rigid{turn: [3]mesh.Vec{
		{k + x*x*v, x*y*v - z*s, x*z*v + y*s},
		{y*x*v + z*s, k + y*y*v, y*z*v - x*s},
		{z*x*v - y*s, z*y*v + x*s, k + z*z*v},
	}}
	r.move = c.Sub(r.dir(c))
	return r
}

// parent is the segment that a segment hangs on.
func parent(s terms.Segment) terms.Segment {
	switch {
	case s == terms.Head, s == terms.ArmUpperLeft, s == terms.ArmUpperRight, s == terms.LegUpperLeft, s == terms.LegUpperRight:
		return terms.Trunk
	case s == terms.Trunk:
		return terms.Trunk
	}
	return s - 2
}

// turnAxis is the unit axis of a turn in rest pose, as that of the left side; turning by a positive
// angle about it does what the names of [Axis] say.
func (g *plan) turnAxis(s terms.Segment, a Axis) mesh.Vec {
	if s == terms.Head {
		return [...]mesh.Vec{Raise: {0, 0, -1}, Bend: {1, 0, 0}, Twist: {0, 1, 0}}[a]
	}
	bone := mesh.Vec{0, -1, 0}
	switch s {
	case terms.ArmUpperLeft, terms.ArmUpperRight:
		bone = g.elbow.Sub(g.shoulder).Unit()
	case terms.ArmLowerLeft, terms.ArmLowerRight:
		bone = g.wrist.Sub(g.elbow).Unit()
	case terms.PalmLeft, terms.PalmRight:
		bone = g.hand.axis[1]
	case terms.LegUpperLeft, terms.LegUpperRight:
		bone = g.knee.Sub(g.hip).Unit()
	case terms.LegLowerLeft, terms.LegLowerRight:
		bone = g.ankle.Sub(g.knee).Unit()
	}
	front := mesh.Vec{0, 0, 1}
	front = front.Sub(bone.Scale(front.Dot(bone))).Unit()
	side := front.Cross(bone)
	switch {
	case a == Twist:
		return bone.Scale(-1)
	case a == Raise:
		return front
	case s == terms.LegLowerLeft || s == terms.LegLowerRight:
		return side
	}
	return side.Scale(-1)
}

// motions returns the motion of every segment from the rest pose.
func (g *plan) motions(turns []JointTurn) (m [terms.SegmentCount]rigid) {
	for s := range m {
		m[s] = still
	}
	for s := terms.Head; s < terms.SegmentCount; s++ {
		own := still
		for _, t := range turns {
			if t.Segment != s {
				continue
			}
			axis, deg := g.turnAxis(s, t.Axis), t.Degrees
			if isRight(s) {
				axis[0], deg = -axis[0], -deg
			}
			own = turnAbout(g.joint(s), axis, deg).after(own)
		}
		m[s] = m[parent(s)].after(own)
	}
	return m
}

// breath is the share of a breath at a point of the rest pose: 1 at the front of the rib cage, less at
// its sides and the belly, a little behind, nothing on head and limbs.
func (g *plan) breath(p mesh.Vec, w *[terms.SegmentCount]float64) float64 {
	y := 965 + (p[1]-g.torso.at[1])/(g.unit*g.trunk)
	chest := ramp(1180, 1320, y) * ramp(1530, 1430, y)
	belly := .45 * ramp(1040, 1120, y) * ramp(1290, 1200, y)
	return w[terms.Trunk] * (chest + belly) * lerp(.2, 1, ramp(-90, 70, p[2]/g.unit))
}
