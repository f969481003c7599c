package near

import "mien/asset/mesh"

// vec is [mesh.Vec] in a form that the compiler keeps in registers.
type vec struct{ x, y, z float64 }

func (a vec) sub(b vec) vec     { return vec{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec) dot(b vec) float64 { return a.x*b.x + a.y*b.y + a.z*b.z }

// less returns a - s*e.
func (a vec) less(s float64, e vec) vec { return vec{a.x - s*e.x, a.y - s*e.y, a.z - s*e.z} }

// foot is the closest point of one triangle.
type foot struct {
	d2   float64 // squared distance
	v, w float64 // weights of the second and third corner
	on   Feature
}

// footOn returns the closest point to p of triangle k of a leaf: the nearest of four real points of
// it, the three edges' closest points and the foot point when it lies inside. Unlike a decision by
// region this never takes a wrong branch on thin triangles. A corner that triangles share is equally
// far in all of them, to the bit.
//
// Source: the cases are those of Ericson, Real-Time Collision Detection (2005), 5.1.5.
func (l *leaf) footOn(k int, p vec) foot {
	x, y, z := l.corners(k)
	e0, e2 := y.sub(x), z.sub(x)
	a := p.sub(x)
	e0e0, e2e2, e0e2 := e0.dot(e0), e2.dot(e2), e0.dot(e2)
	e0a, e2a := e0.dot(a), e2.dot(a)

	inside := foot{d2: -1}
	den := e0e0*e2e2 - e0e2*e0e2
	if den > 0 {
		v := e2e2*e0a - e0e2*e2a
		w := e0e0*e2a - e0e2*e0a
		if v >= 0 && w >= 0 && v+w <= den {
			v, w = v/den, w/den
			d := a.less(v, e0).less(w, e2)
			inside = foot{d.dot(d), v, w, Face}
			// A corner angle far from 0 and 180 degrees makes the foot point exact to rounding, so
			// that no edge can be nearer.
			if den > 1e-4*e0e0*e2e2 {
				return inside
			}
		}
	}
	b, c := p.sub(y), p.sub(z)
	e1 := z.sub(y)
	d, s := segment(e0, a, b, e0e0, e0a)
	best := foot{d, s, 0, edgeFeature(s, Edge01, Corner0, Corner1)}
	if d, s := segment(e1, b, c, e1.dot(e1), e1.dot(b)); d < best.d2 {
		best = foot{d, 1 - s, s, edgeFeature(s, Edge12, Corner1, Corner2)}
	}
	if d, s := segment(e2, a, c, e2e2, e2a); d < best.d2 {
		best = foot{d, 0, s, edgeFeature(s, Edge20, Corner0, Corner2)}
	}
	if inside.d2 >= 0 && inside.d2 < best.d2 {
		return inside
	}
	return best
}

func (l *leaf) corners(k int) (x, y, z vec) {
	c := &l.corner
	k &= fan - 1
	return vec{float64(c[0][k]), float64(c[1][k]), float64(c[2][k])},
		vec{float64(c[3][k]), float64(c[4][k]), float64(c[5][k])},
		vec{float64(c[6][k]), float64(c[7][k]), float64(c[8][k])}
}

// at returns the point with weights v and w of the second and third corner of triangle k.
func (l *leaf) at(k int, v, w float64) mesh.Vec {
	x, y, z := l.corners(k)
	return mesh.Vec{
		x.x + v*(y.x-x.x) + w*(z.x-x.x),
		x.y + v*(y.y-x.y) + w*(z.y-x.y),
		x.z + v*(y.z-x.z) + w*(z.z-x.z),
	}
}

func edgeFeature(s float64, edge, first, last Feature) Feature {
	switch s {
	case 0:
		return first
	case 1:
		return last
	}
	return edge
}

// segment returns the squared distance to the closest point s*e of a segment, 0 <= s <= 1; a and b run
// from its ends to the point.
func segment(e, a, b vec, ee, ea float64) (d2, s float64) {
	if !(ea > 0) {
		return a.dot(a), 0
	}
	if !(ea < ee) {
		return b.dot(b), 1
	}
	s = ea / ee
	d := a.less(s, e)
	return d.dot(d), s
}
