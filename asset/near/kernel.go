package near

import "math"

// The kernels work on eight boxes or triangles at once in float32. Each is written twice, in vector
// instructions and here. Both give the same bits, which explicit conversions ensure by forbidding the
// compiler to fuse a product and a sum; but for the distances to triangles, which fused instructions
// make faster and more exact. Either way those stay within [Index.slack], and [searcher.improve] decides
// in float64, so that the answers are the same to the bit.

// point is a place in float32, as the kernels take it.
type point [3]float32

// lanes packs the numbers of the bits set in a mask into its lowest bytes, in ascending order.
//
//lint:ignore U1000 the assembly reads it
var lanes = lanesTable()

//lint:ignore U1000 see lanes
func lanesTable() (t [256]uint64) {
	for m := range t {
		n := 0
		for k := uint64(0); k < fan; k++ {
			if m>>k&1 == 1 {
				t[m] |= k << (8 * n)
				n++
			}
		}
	}
	return t
}

// smaller and larger have the rule of the vector instructions for values that are not numbers.
func smaller(a, b float32) float32 {
	if a < b {
		return a
	}
	return b
}

func larger(a, b float32) float32 {
	if a > b {
		return a
	}
	return b
}

func nodeDist2Go(n *node, p *point, out *[fan]float32) {
	for k := range out {
		x := smaller(larger(n.lo[0][k], p[0]), n.hi[0][k]) - p[0]
		y := smaller(larger(n.lo[1][k], p[1]), n.hi[1][k]) - p[1]
		z := smaller(larger(n.lo[2][k], p[2]), n.hi[2][k]) - p[2]
		out[k] = float32(float32(x*x)+float32(y*y)) + float32(z*z)
	}
}

func nodeReachGo(n *node, lo, hi *point, r2 float32) (mask uint32) {
	for k := 0; k < fan; k++ {
		var d [3]float32
		for a := range d {
			d[a] = larger(larger(n.lo[a][k]-hi[a], lo[a]-n.hi[a][k]), 0)
		}
		if float32(float32(d[0]*d[0])+float32(d[1]*d[1]))+float32(d[2]*d[2]) <= r2 {
			mask |= 1 << k
		}
	}
	return mask
}

// crate holds the boxes of leaves that can matter to a group of points, one array per bound, and their
// numbers. It has room for eight more than are counted, which are empty up to a whole eight.
type crate struct {
	lo, hi [3][crateRoom]float32
	leaf   [crateRoom]int32
}

const crateRoom = (batch + 1) * fan

// close marks the room behind n boxes as empty.
func (c *crate) close(n int) {
	inf := float32(math.Inf(1))
	for a := 0; a < 3; a++ {
		for k := n; k < n+fan; k++ {
			c.lo[a][k], c.hi[a][k] = inf, -inf
		}
	}
}

func collectGo(nodes []node, list []int32, lo, hi *point, r2 float32, out *crate) (n int) {
	for _, i := range list {
		mask := nodeReachGo(&nodes[i], lo, hi, r2)
		for k := 0; k < fan; k++ {
			if mask>>k&1 == 0 {
				continue
			}
			for a := 0; a < 3; a++ {
				out.lo[a][n], out.hi[a][n] = nodes[i].lo[a][k], nodes[i].hi[a][k]
			}
			out.leaf[n] = i*fan + int32(k)
			n++
		}
	}
	return n
}

func nearestBoxesGo(c *crate, n int, q []point, out []int32) {
	for j := range q {
		p := &q[j]
		least := float32(math.MaxFloat32)
		out[j] = 0
		for i := 0; i < n; i++ {
			x := p[0] + p[0] - c.lo[0][i] - c.hi[0][i]
			y := p[1] + p[1] - c.lo[1][i] - c.hi[1][i]
			z := p[2] + p[2] - c.lo[2][i] - c.hi[2][i]
			if d := float32(float32(x*x)+float32(y*y)) + float32(z*z); d < least {
				least, out[j] = d, c.leaf[i]
			}
		}
	}
}

func boxesWithinGo(c *crate, n int, q []point, r2 []float32, not []int32, leaf, owner []int32) (pairs, points int) {
	for points < len(q) && pairs+n <= len(leaf)-fan {
		p := &q[points]
		for i := 0; i < n; i++ {
			x := smaller(larger(c.lo[0][i], p[0]), c.hi[0][i]) - p[0]
			y := smaller(larger(c.lo[1][i], p[1]), c.hi[1][i]) - p[1]
			z := smaller(larger(c.lo[2][i], p[2]), c.hi[2][i]) - p[2]
			if float32(float32(x*x)+float32(y*y))+float32(z*z) <= r2[points] && c.leaf[i] != not[points] {
				leaf[pairs], owner[pairs] = c.leaf[i], int32(points)
				pairs++
			}
		}
		points++
	}
	return pairs, points
}

func pairsDist2Go(leaves []leaf, list, owner []int32, q []point, out, least [][fan]float32) {
	for i, l := range list {
		best := &least[owner[i]]
		for k := 0; k < fan; k++ {
			d := leaves[l].dist2(k, &q[owner[i]])
			out[i][k] = d
			best[k] = smaller(d, best[k])
		}
	}
}

func leastGo(d2 [][fan]float32, out []float32) {
	for i := range d2 {
		least := d2[i][0]
		for _, d := range d2[i][1:] {
			least = smaller(d, least)
		}
		out[i] = float32(math.Sqrt(float64(least)))
	}
}

// tiny stands for the squared length of an edge without one.
const tiny = 1e-37

func dot32(a, b [3]float32) float32 {
	return float32(float32(a[0]*b[0])+float32(a[1]*b[1])) + float32(a[2]*b[2])
}

// along returns the squared distance to the closest point of an edge e whose start lies -a from the
// point; ee and ea are their products.
func along(e, a [3]float32, ee, ea float32) float32 {
	t := smaller(larger(ea/larger(ee, tiny), 0), 1)
	var r [3]float32
	for k := range r {
		r[k] = a[k] - float32(t*e[k])
	}
	return dot32(r, r)
}

// dist2 returns the squared distance from p to triangle k: the least of four real points of it, as in
// [leaf.footOn].
func (l *leaf) dist2(k int, p *point) float32 {
	var a, b, e0, e1, e2 [3]float32
	for i := range a {
		x := l.corner[i][k]
		a[i], e0[i], e2[i] = p[i]-x, l.corner[i+3][k]-x, l.corner[i+6][k]-x
		e1[i], b[i] = e2[i]-e0[i], a[i]-e0[i]
	}
	e00, e22, e02 := dot32(e0, e0), dot32(e2, e2), dot32(e0, e2)
	e0a, e2a := dot32(e0, a), dot32(e2, a)
	d := along(e1, b, dot32(e1, e1), dot32(e1, b))
	d = smaller(along(e0, a, e00, e0a), d)
	d = smaller(along(e2, a, e22, e2a), d)

	inv := 1 / (float32(e00*e22) - float32(e02*e02))
	v := float32(float32(e22*e0a)-float32(e02*e2a)) * inv
	w := float32(float32(e00*e2a)-float32(e02*e0a)) * inv
	if smaller(smaller(v, w), 1-v-w) < 0 {
		return d
	}
	var r [3]float32
	for i := range r {
		r[i] = a[i] - float32(v*e0[i]) - float32(w*e2[i])
	}
	return smaller(dot32(r, r), d)
}

func withinGo(d2 [][fan]float32, list, owner []int32, slack, root []float32, place, who []int32) (n int) {
	for i, l := range list {
		r := root[owner[i]] + slack[l]
		r = float32(r * r)
		for k, d := range d2[i] {
			if d <= r {
				place[n], who[n] = l*fan+int32(k), owner[i]
				n++
			}
		}
	}
	return n
}

// thinUnit is 16 roundings of float32.
const thinUnit = 1.0 / (1 << 20)

// overstate bounds what [leaf.dist2] can be too large by for triangle k, but for a part in 2^20 of the
// distance: an inaccurate foot point of a thin triangle, which is never farther off than the nearest
// edge.
func (l *leaf) overstate(k int) float32 {
	var e0, e2 [3]float32
	for i := range e0 {
		e0[i], e2[i] = l.corner[i+3][k]-l.corner[i][k], l.corner[i+6][k]-l.corner[i][k]
	}
	e00, e22, e02 := dot32(e0, e0), dot32(e2, e2), dot32(e0, e2)
	prod := float32(e00 * e22)
	den := larger(prod-float32(e02*e02), 0)
	long := float32(math.Sqrt(float64(larger(larger(e00, e22), tiny))))
	sin2 := larger(den/larger(prod, tiny)-thinUnit, thinUnit)
	high := float32(math.Sqrt(float64(den+float32(prod*thinUnit)))) / long
	return smaller(float32(long*thinUnit)/sin2, float32(high*0.5))
}

func boundLeafGo(l *leaf, b *bounds) {
	for a := 0; a < 3; a++ {
		lo, hi := l.corner[a][0], l.corner[a][0]
		for c := a; c < 9; c += 3 {
			for _, v := range l.corner[c] {
				lo, hi = smaller(v, lo), larger(v, hi)
			}
		}
		b.lo[a], b.hi[a] = lo, hi
	}
	thin := float32(0)
	for k := 0; k < fan; k++ {
		thin = larger(l.overstate(k), thin)
	}
	side := float32(float32(b.hi[0]-b.lo[0])+float32(b.hi[1]-b.lo[1])) + float32(b.hi[2]-b.lo[2])
	b.slack = thin + float32(side*thinUnit)
}
