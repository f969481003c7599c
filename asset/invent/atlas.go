package invent

import (
	"context"
	"fmt"
	"math"

	"mien/asset/mesh"
)

// chart is a connected piece of one material that lies flat on the atlas without overlapping itself.
type chart struct {
	tri     []uint32 // in order of growth
	u, v    mesh.Vec // axes of its plane
	angle   float64  // turn on the atlas, radians
	lo      [2]float64
	w, h    float64 // extent at the density of growth, texels
	x, y    int     // where the packer put its frame
	upright bool    // turned by a further quarter turn
}

const (
	gutterTexels  = 2    // around every chart
	chartCosine   = 0.62 // normals of a chart stay within 52 degrees of its first triangle
	looseCosine   = 0.25 // crumbs join a chart up to 75 degrees off
	crumb         = 24   // triangles: smaller charts are crumbs
	usableShare   = 0.62 // of the atlas that charts are first sized for
	largestExtent = 0.23 // of a chart, as a share of the side of the atlas
)

// layOut gives m texture coordinates on an atlas of size by size texels: charts of one material each,
// grown from triangles in an order that follows from seed, so that another seed cuts the surface along
// other seams. shape holds the positions that charts are measured on. Texel density is the same
// everywhere, up to the slant of a triangle against its chart.
func layOut(ctx context.Context, m *mesh.Mesh, shape [][3]float32, size int, seed uint64, family Family) error {
	if len(m.Tri) == 0 {
		m.UV, m.TriUV = nil, [][3]uint32{}
		return nil
	}
	g := newGrowth(m, shape)
	density := float64(size) * math.Sqrt(usableShare/g.area)
	charts, err := g.grow(ctx, size, density, newRandom(seed, "atlas"))
	if err != nil {
		return err
	}
	place := packShelves
	if family == Report {
		place = packSkyline
	}
	scale := fittingScale(charts, size)
	for ; scale > 0.2; scale *= 0.975 {
		if place(charts, size, scale) {
			g.write(charts, size, density, scale)
			return nil
		}
	}
	return fmt.Errorf("atlas of %d texels: %d charts do not fit", size, len(charts))
}

// growth is the state of cutting a mesh into charts.
type growth struct {
	m      *mesh.Mesh
	shape  [][3]float32
	normal []mesh.Vec
	across [][3]int32 // neighbour over each edge of each triangle, -1 for none
	area   float64
}

func newGrowth(m *mesh.Mesh, shape [][3]float32) *growth {
	g := &growth{m: m, shape: shape, normal: make([]mesh.Vec, len(m.Tri)), across: acrossEdges(m)}
	for t := range m.Tri {
		a, b, c := g.corners(uint32(t))
		n := b.Sub(a).Cross(c.Sub(a))
		g.area += n.Len() / 2
		g.normal[t] = n.Unit()
	}
	return g
}

func (g *growth) corners(t uint32) (a, b, c mesh.Vec) {
	i := g.m.Tri[t]
	return vec3(g.shape[i[0]]), vec3(g.shape[i[1]]), vec3(g.shape[i[2]])
}

// acrossEdges returns the triangle on the other side of each edge (corner k to k+1), -1 for none.
func acrossEdges(m *mesh.Mesh) [][3]int32 {
	start := make([]uint32, len(m.Pos)+1)
	for _, t := range m.Tri {
		for _, i := range t {
			start[i+1]++
		}
	}
	for i := range m.Pos {
		start[i+1] += start[i]
	}
	at := append([]uint32(nil), start[:len(m.Pos)]...)
	of := make([]uint32, 3*len(m.Tri))
	for t, tri := range m.Tri {
		for _, i := range tri {
			of[at[i]] = uint32(t)
			at[i]++
		}
	}
	out := make([][3]int32, len(m.Tri))
	for t, tri := range m.Tri {
		for k := range tri {
			a, b := tri[k], tri[(k+1)%3]
			out[t][k] = -1
			for _, o := range of[start[a]:start[a+1]] {
				q := m.Tri[o]
				if int(o) != t && (q[0] == b || q[1] == b || q[2] == b) {
					out[t][k] = int32(o)
					break
				}
			}
		}
	}
	return out
}

// sheet is the plane that one chart is being laid on, in texels.
type sheet struct {
	g       *growth
	density float64
	side    int
	stamp   []int32 // number + 1 of the chart that last covered a texel
	mark    int32
	origin  mesh.Vec
	u, v    mesh.Vec
	covered []int32
}

// begin turns to chart number n, which starts at a triangle.
func (s *sheet) begin(n int, first uint32, c *chart) {
	s.mark, s.u, s.v = int32(n+1), c.u, c.v
	s.origin, _, _ = s.g.corners(first)
}

// lay marks the texels of triangle t and reports whether they were free.
func (s *sheet) lay(t uint32) bool {
	flat := func(p mesh.Vec) (x, y float64) {
		d := p.Sub(s.origin)
		return d.Dot(s.u)*s.density + float64(s.side)/2, d.Dot(s.v)*s.density + float64(s.side)/2
	}
	a, b, c := s.g.corners(t)
	ax, ay := flat(a)
	bx, by := flat(b)
	cx, cy := flat(c)
	s.covered = s.covered[:0]
	free := eachTexel(ax, ay, bx, by, cx, cy, s.side, func(x, y int) bool {
		at := int32(y*s.side + x)
		if s.stamp[at] == s.mark {
			return false
		}
		s.covered = append(s.covered, at)
		return true
	})
	if free {
		for _, at := range s.covered {
			s.stamp[at] = s.mark
		}
	}
	return free
}

// grow cuts the whole mesh into charts. A triangle joins only where it covers no texel centre that the
// chart covers already, so that a chart never lies on itself.
func (g *growth) grow(ctx context.Context, size int, density float64, r *random) ([]chart, error) {
	n := len(g.m.Tri)
	of := make([]int32, n) // chart number + 1 of each triangle
	side := int(2 * largestExtent * float64(size))
	s := &sheet{g: g, density: density, side: side, stamp: make([]int32, side*side)}
	var charts []chart

	step := 1 + r.pick(n)
	for gcd(step, n) != 1 {
		step++
	}
	for i, first := 0, r.pick(n); i < n; i, first = i+1, (first+step)%n {
		if of[first] != 0 {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c := chart{tri: []uint32{uint32(first)}, angle: r.between(0, 2*math.Pi)}
		c.u, c.v = planeAxes(g.normal[first])
		of[first] = int32(len(charts) + 1)
		s.begin(len(charts), uint32(first), &c)
		s.lay(uint32(first))
		g.spread(&c, s, of, chartCosine, func(t int32) bool { return of[t] == 0 })
		charts = append(charts, c)
	}

	// Crumbs go to larger charts beside them.
	clear(s.stamp)
	kept := charts[:0:0]
	for i := range charts {
		c := &charts[i]
		if len(c.tri) < crumb {
			continue
		}
		s.begin(i, c.tri[0], c)
		for _, t := range c.tri {
			s.lay(t)
		}
		g.spread(c, s, of, looseCosine, func(t int32) bool { return len(charts[of[t]-1].tri) < crumb })
		kept = append(kept, *c)
	}
	for i := range charts {
		c := &charts[i]
		if len(c.tri) >= crumb {
			continue
		}
		left := c.tri[:0:0]
		for _, t := range c.tri {
			if of[t] == int32(i+1) {
				left = append(left, t)
			}
		}
		if len(left) > 0 {
			c.tri = left
			kept = append(kept, *c)
		}
	}
	for i := range kept {
		g.turn(&kept[i], density)
	}
	return kept, nil
}

// spread adds to a chart the triangles around it that may join, outward from those that it has.
func (g *growth) spread(c *chart, s *sheet, of []int32, cosine float64, may func(t int32) bool) {
	n := c.u.Cross(c.v)
	material := g.m.MaterialOf(int(c.tri[0]))
	for q := 0; q < len(c.tri); q++ {
		for _, o := range g.across[c.tri[q]] {
			if o >= 0 && may(o) && of[o] != s.mark && g.m.MaterialOf(int(o)) == material && g.normal[o].Dot(n) >= cosine && s.lay(uint32(o)) {
				of[o] = s.mark
				c.tri = append(c.tri, uint32(o))
			}
		}
	}
}

// eachTexel calls f for every texel whose centre lies inside the triangle and reports whether f always
// returned true; a triangle that leaves the square of side texels gives false.
func eachTexel(ax, ay, bx, by, cx, cy float64, side int, f func(x, y int) bool) bool {
	x0, x1 := min(ax, bx, cx), max(ax, bx, cx)
	y0, y1 := min(ay, by, cy), max(ay, by, cy)
	if x0 < 1 || y0 < 1 || x1 > float64(side-1) || y1 > float64(side-1) {
		return false
	}
	const edge = 1e-7 // a centre on a shared edge belongs to neither side
	for y := int(y0 + 0.5); float64(y)+0.5 <= y1; y++ {
		for x := int(x0 + 0.5); float64(x)+0.5 <= x1; x++ {
			px, py := float64(x)+0.5, float64(y)+0.5
			if (bx-ax)*(py-ay)-(by-ay)*(px-ax) > edge && (cx-bx)*(py-by)-(cy-by)*(px-bx) > edge &&
				(ax-cx)*(py-cy)-(ay-cy)*(px-cx) > edge && !f(x, y) {
				return false
			}
		}
	}
	return true
}

// turn picks, among sixteen turns from the chart's own angle, the one with the smallest frame.
func (g *growth) turn(c *chart, density float64) {
	best := math.Inf(1)
	from := c.angle
	for k := 0; k < 16; k++ {
		angle := from + float64(k)*math.Pi/32
		sin, cos := math.Sincos(angle)
		lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
		step := max(1, len(c.tri)/150)
		for i := 0; i < len(c.tri); i += step {
			for _, v := range g.m.Tri[c.tri[i]] {
				p := vec3(g.shape[v])
				x, y := p.Dot(c.u), p.Dot(c.v)
				x, y = cos*x-sin*y, sin*x+cos*y
				lo[0], hi[0] = min(lo[0], x), max(hi[0], x)
				lo[1], hi[1] = min(lo[1], y), max(hi[1], y)
			}
		}
		if a := (hi[0] - lo[0]) * (hi[1] - lo[1]); a < best {
			best, c.angle = a, angle
		}
	}
	sin, cos := math.Sincos(c.angle)
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, t := range c.tri {
		for _, v := range g.m.Tri[t] {
			p := vec3(g.shape[v])
			x, y := p.Dot(c.u), p.Dot(c.v)
			x, y = cos*x-sin*y, sin*x+cos*y
			lo[0], hi[0] = min(lo[0], x), max(hi[0], x)
			lo[1], hi[1] = min(lo[1], y), max(hi[1], y)
		}
	}
	c.lo, c.w, c.h = lo, (hi[0]-lo[0])*density, (hi[1]-lo[1])*density
}

// write fills the mesh's texture coordinates from placed charts.
func (g *growth) write(charts []chart, size int, density, scale float64) {
	m := g.m
	m.UV, m.TriUV = m.UV[:0], make([][3]uint32, len(m.Tri))
	seen := make([]int32, len(m.Pos))
	index := make([]uint32, len(m.Pos))
	k := density * scale
	for n := range charts {
		c := &charts[n]
		sin, cos := math.Sincos(c.angle)
		for _, t := range c.tri {
			for j, v := range m.Tri[t] {
				if seen[v] != int32(n+1) {
					seen[v], index[v] = int32(n+1), uint32(len(m.UV))
					p := vec3(g.shape[v])
					x, y := p.Dot(c.u), p.Dot(c.v)
					x, y = (cos*x-sin*y-c.lo[0])*k, (sin*x+cos*y-c.lo[1])*k
					if c.upright {
						x, y = c.h*scale-y, x
					}
					m.UV = append(m.UV, [2]float32{
						float32((x + float64(c.x+gutterTexels)) / float64(size)),
						float32((y + float64(c.y+gutterTexels)) / float64(size)),
					})
				}
				m.TriUV[t][j] = index[v]
			}
		}
	}
}

// planeAxes returns unit vectors u, v with u x v = n.
func planeAxes(n mesh.Vec) (u, v mesh.Vec) {
	other := mesh.Vec{0, 1, 0}
	if math.Abs(n[1]) > 0.9 {
		other = mesh.Vec{1, 0, 0}
	}
	u = other.Cross(n).Unit()
	return u, n.Cross(u)
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
