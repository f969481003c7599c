package invent

import (
	"mien/asset/mesh"
	"mien/asset/terms"
)

// weights returns by how much each segment moves a point of the rest pose (mm); they sum to 1 and
// change smoothly around the joints.
func (g *plan) weights(p mesh.Vec) (w [terms.SegmentCount]float64) {
	s := g.unit
	w[terms.Trunk] = 1
	take := func(from, to terms.Segment, share float64) {
		moved := w[from] * share
		w[from] -= moved
		w[to] += moved
	}
	if h := p.Sub(g.neck); h[1] > -90*s && h[0]*h[0] < 2e4*s*s {
		take(terms.Trunk, terms.Head, sigmoid(h.Dot(mesh.Vec{0, .912, .41}), 42*s))
	}
	q, right := p, terms.Segment(0)
	if p[0] < 0 {
		q[0], right = -p[0], 1
	}
	arm := sigmoid(q.Sub(g.shoulder.Add(mesh.Vec{-14 * s, -105 * s, 0})).Dot(mesh.Vec{.94, .34, 0}), 52*s) *
		sigmoid(q[0]-g.shoulder[0]+58*s, 44*s)
	if arm > 0 {
		take(terms.Trunk, terms.ArmUpperLeft+right, arm)
		take(terms.ArmUpperLeft+right, terms.ArmLowerLeft+right, sigmoid(q.Sub(g.elbow).Dot(g.elbowPlane), 40*s))
		take(terms.ArmLowerLeft+right, terms.PalmLeft+right, sigmoid(q.Sub(g.wrist).Dot(g.hand.axis[1]), 26*s))
		return w
	}
	leg := sigmoid(q.Sub(g.hip).Dot(mesh.Vec{.3, -.954, 0}), 75*s)
	if leg > 0 {
		// Between the thighs both legs have a share, equal at the midline.
		share := sigmoid(q[0], 16*s)
		take(terms.Trunk, terms.LegUpperLeft+right, leg*share)
		take(terms.Trunk, terms.LegUpperLeft+1-right, leg*(1-share))
		take(terms.LegUpperLeft+right, terms.LegLowerLeft+right, sigmoid(q.Sub(g.knee).Dot(g.kneePlane), 55*s))
		take(terms.LegLowerLeft+right, terms.SoleLeft+right, sigmoid(q.Sub(g.ankle).Dot(mesh.Vec{0, -.82, .57}), 28*s))
	}
	return w
}

// sigmoid goes smoothly from 0 at -half to 1 at half.
func sigmoid(x, half float64) float64 {
	t := x/(2*half) + .5
	if t <= 0 {
		return 0
	}
	if t >= 1 {
		return 1
	}
	return t * t * t * (t*(6*t-15) + 10)
}

// ramp goes smoothly from 0 at a to 1 at b; a may be the greater.
func ramp(a, b, x float64) float64 {
	t := (x - a) / (b - a)
	if t <= 0 {
		return 0
	}
	if t >= 1 {
		return 1
	}
	return t * t * (3 - 2*t)
}

// heaviest returns the segment with the greatest weight.
func heaviest(w [terms.SegmentCount]float64) terms.Segment {
	best := terms.Trunk
	for s := terms.Head; s < terms.SegmentCount; s++ {
		if w[s] > w[best] {
			best = s
		}
	}
	return best
}

// along is the place of p along the bone from a to b, 0 to 1.
func along(a, b, p mesh.Vec) float64 {
	d := b.Sub(a)
	return p.Sub(a).Dot(d) / d.Dot(d)
}
