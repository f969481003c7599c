package mesh

import "math"

// Cutter cuts polygons into triangles. Its zero value is ready, and one serves many polygons.
type Cutter struct {
	// Work bounds the corner tests that concave polygons may cost in all, 0 for no bound. Beyond it
	// they are cut as fans, in part or in whole, and Fans counts them.
	Work int
	Fans int

	done int
	flat [][2]float64
	ring []uint32
	tri  [][3]uint32
}

// Cut returns the len(p)-2 triangles of the simple polygon p, by corner number, wound as p is. A
// convex polygon is cut as a fan from its first corner. A concave one is cut at its ears, and so is
// one whose fan folds back on itself; a quadrilateral is then cut along its other diagonal. The
// result is valid until the next call.
//
// Polygons need not be plane: they are judged in the plane of their mean normal. One that crosses
// itself, or without any area, is cut as well as may be.
//
// Source: mean normal by Newell's method (Sutherland, Sproull, Schumacker, ACM Computing Surveys 6(1),
// 1974); ears as in Meisters, American Mathematical Monthly 82(6), 1975. From memory.
func (c *Cutter) Cut(p []Vec) [][3]uint32 {
	c.tri = c.tri[:0]
	n := len(p)
	if n < 3 {
		return nil
	}
	c.ring = c.ring[:0]
	for i := range n {
		c.ring = append(c.ring, uint32(i))
	}
	if n > 3 && !c.flatten(p) {
		c.ears()
	}
	for k := 1; k+1 < len(c.ring); k++ {
		c.tri = append(c.tri, [3]uint32{c.ring[0], c.ring[k], c.ring[k+1]})
	}
	return c.tri
}

// flatten lays p into the plane of its mean normal, counter-clockwise, and reports whether the fan
// from corner 0 has no triangle that is turned over.
func (c *Cutter) flatten(p []Vec) bool {
	var normal Vec
	for i := range p {
		normal = normal.Add(p[i].Sub(p[0]).Cross(p[(i+1)%len(p)].Sub(p[0])))
	}
	if normal.Len() == 0 || math.IsInf(normal.Len(), 0) {
		return true
	}
	normal = normal.Unit()
	axis := 0
	for k := range normal {
		if math.Abs(normal[k]) < math.Abs(normal[axis]) {
			axis = k
		}
	}
	var side Vec
	side[axis] = 1
	u := side.Cross(normal).Unit()
	v := normal.Cross(u)
	c.flat = c.flat[:0]
	for i := range p {
		d := p[i].Sub(p[0])
		c.flat = append(c.flat, [2]float64{d.Dot(u), d.Dot(v)})
	}
	for k := 1; k+1 < len(p); k++ {
		if c.turn(0, uint32(k), uint32(k+1)) < 0 {
			return false
		}
	}
	return true
}

// turn returns twice the signed area of a triangle of flat corners.
func (c *Cutter) turn(i, j, k uint32) float64 {
	a, b, d := c.flat[i], c.flat[j], c.flat[k]
	return (b[0]-a[0])*(d[1]-a[1]) - (b[1]-a[1])*(d[0]-a[0])
}

// ears cuts one convex corner after another that holds no other corner, down to a triangle, or until
// the work is used up.
func (c *Cutter) ears() {
	at, tried := 1, 0
	for len(c.ring) > 3 {
		if c.Work > 0 && c.done > c.Work {
			c.Fans++
			return
		}
		m := len(c.ring)
		at %= m
		i, j, k := c.ring[(at+m-1)%m], c.ring[at], c.ring[(at+1)%m]
		// When no corner is an ear the polygon crosses itself: any corner goes.
		if tried < m && !c.isEar(i, j, k) {
			at++
			tried++
			continue
		}
		c.tri = append(c.tri, [3]uint32{i, j, k})
		c.ring = append(c.ring[:at], c.ring[at+1:]...)
		c.done += len(c.ring) / 8
		tried = 0
	}
}

func (c *Cutter) isEar(i, j, k uint32) bool {
	c.done++
	if c.turn(i, j, k) <= 0 {
		return false
	}
	c.done += len(c.ring)
	for _, o := range c.ring {
		if o == i || o == j || o == k || c.flat[o] == c.flat[i] || c.flat[o] == c.flat[j] || c.flat[o] == c.flat[k] {
			continue
		}
		if c.turn(i, j, o) >= 0 && c.turn(j, k, o) >= 0 && c.turn(k, i, o) >= 0 {
			return false
		}
	}
	return true
}
