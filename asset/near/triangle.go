package near

import "mien/asset/mesh"

// triangleDist2 returns the squared distance from p to the triangle with corners c[0:3], c[3:6],
// c[6:9]: the least of four real points of it, the three edges' closest points and the foot point when
// it lies inside. Unlike a decision by region this never takes a wrong branch on thin triangles.
//
// Source: the cases are those of Ericson, Real-Time Collision Detection (2005), 5.1.5.
func triangleDist2(c *[9]float32, p mesh.Vec) float64 {
	t := split(c, p)
	in, _, _, ok := t.inside()
	if ok && t.wide() {
		return in // no edge can be nearer
	}
	d01, _ := segment(t.e0, t.a, t.e0e0, t.e0a)
	d12, _ := segment(t.e1, t.b, t.e1e1, t.e1b)
	d20, _ := segment(t.e2, t.a, t.e2e2, t.e2a)
	d := min(d01, d12, d20)
	if ok && in < d {
		d = in
	}
	return d
}

// triangleWeights returns the feature that triangleDist2 chose and the weights of corners 1 and 2.
func triangleWeights(c *[9]float32, p mesh.Vec) (on Feature, v, w float64) {
	t := split(c, p)
	if _, v, w, ok := t.inside(); ok && t.wide() {
		return Face, v, w
	}
	best, s := segment(t.e0, t.a, t.e0e0, t.e0a)
	on, v, w = edgeFeature(s, Edge01, Corner0, Corner1), s, 0
	if d, s := segment(t.e1, t.b, t.e1e1, t.e1b); d < best {
		best = d
		on, v, w = edgeFeature(s, Edge12, Corner1, Corner2), 1-s, s
	}
	if d, s := segment(t.e2, t.a, t.e2e2, t.e2a); d < best {
		best = d
		on, v, w = edgeFeature(s, Edge20, Corner0, Corner2), 0, s
	}
	if d, iv, iw, ok := t.inside(); ok && d < best {
		on, v, w = Face, iv, iw
	}
	return on, v, w
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

// parts are the vectors and products that the four candidates share. a and b run from the first and
// second corner to the point.
type parts struct {
	e0, e1, e2, a, b                      mesh.Vec // edges 0-1, 1-2, 0-2
	e0e0, e1e1, e2e2, e0e2, e0a, e2a, e1b float64
}

func split(c *[9]float32, p mesh.Vec) parts {
	var t parts
	for k := 0; k < 3; k++ {
		x, y, z := float64(c[k]), float64(c[k+3]), float64(c[k+6])
		t.e0[k], t.e1[k], t.e2[k] = y-x, z-y, z-x
		t.a[k], t.b[k] = p[k]-x, p[k]-y
	}
	t.e0e0, t.e1e1, t.e2e2 = t.e0.Dot(t.e0), t.e1.Dot(t.e1), t.e2.Dot(t.e2)
	t.e0e2, t.e0a, t.e2a, t.e1b = t.e0.Dot(t.e2), t.e0.Dot(t.a), t.e2.Dot(t.a), t.e1.Dot(t.b)
	return t
}

// segment returns the squared distance to the closest point s*e of a segment, 0 <= s <= 1.
func segment(e, a mesh.Vec, ee, ea float64) (d2, s float64) {
	if ea > 0 {
		if ea < ee {
			s = ea / ee
		} else {
			s = 1
		}
	}
	x, y, z := a[0]-s*e[0], a[1]-s*e[1], a[2]-s*e[2]
	return x*x + y*y + z*z, s
}

// wide reports whether the corner angle is far from 0 and 180 degrees, so that the foot point is exact
// to rounding.
func (t *parts) wide() bool {
	return t.e0e0*t.e2e2-t.e0e2*t.e0e2 > 1e-4*t.e0e0*t.e2e2
}

// inside returns squared distance and weights of the foot point when it lies within the triangle.
func (t *parts) inside() (d2, v, w float64, ok bool) {
	den := t.e0e0*t.e2e2 - t.e0e2*t.e0e2
	if den <= 0 {
		return 0, 0, 0, false
	}
	v = t.e2e2*t.e0a - t.e0e2*t.e2a
	w = t.e0e0*t.e2a - t.e0e2*t.e0a
	if v < 0 || w < 0 || v+w > den {
		return 0, 0, 0, false
	}
	v, w = v/den, w/den
	x := t.a[0] - v*t.e0[0] - w*t.e2[0]
	y := t.a[1] - v*t.e0[1] - w*t.e2[1]
	z := t.a[2] - v*t.e0[2] - w*t.e2[2]
	return x*x + y*y + z*z, v, w, true
}
