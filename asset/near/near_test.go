package near

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"mien/asset/mesh"
)

var ctx = context.Background()

// Values by computation; the seven regions are those of Ericson, Real-Time Collision Detection (2005), 5.1.5.
func TestSevenRegions(t *testing.T) {
	m := &mesh.Mesh{Pos: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, Tri: [][3]uint32{{0, 1, 2}}}
	ix := build(t, m)
	for _, c := range []struct {
		p    mesh.Vec
		want float64
		on   Feature
	}{
		{mesh.Vec{.25, .25, 1}, 1, Face},
		{mesh.Vec{.5, -1, 0}, 1, Edge01},
		{mesh.Vec{-1, .5, 0}, 1, Edge20},
		{mesh.Vec{1, 1, 0}, .7071067812, Edge12},
		{mesh.Vec{2, 0, 0}, 1, Corner1},
		{mesh.Vec{0, 3, 0}, 2, Corner2},
		{mesh.Vec{-1, -1, 0}, 1.4142135624, Corner0},
	} {
		h, ok := ix.Closest(c.p, 0)
		if !ok || math.Abs(h.DistM-c.want) > 1e-10 || h.On != c.on {
			t.Errorf("%v: got %v on %d, want %v on %d", c.p, h.DistM, h.On, c.want, c.on)
		}
	}
	if _, ok := ix.Closest(mesh.Vec{.25, .25, 1}, .999); ok {
		t.Error("a point 1 m away was found within .999 m")
	}
	if _, ok := ix.Closest(mesh.Vec{.25, .25, 1}, 1); !ok {
		t.Error("a point 1 m away was not found within 1 m")
	}
	if _, ok := ix.Closest(mesh.Vec{math.NaN(), 0, 0}, 0); ok {
		t.Error("NaN has a closest point")
	}
}

func TestFaults(t *testing.T) {
	if _, err := Build(ctx, &mesh.Mesh{}); !errors.Is(err, ErrNoSurface) {
		t.Errorf("got %v", err)
	}
	m := sphere(4, 8, 1, mesh.Vec{})
	m.Pos[3][1] = float32(math.NaN())
	if _, err := Build(ctx, m); err == nil {
		t.Error("NaN was indexed")
	}
	stop, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := Build(stop, sphere(8, 8, 1, mesh.Vec{})); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

// Random soups with slivers, faces of no area and duplicates, against trying every triangle.
func TestAgainstEveryTriangle(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for _, n := range []int{1, 2, 5, 33, 300, 3000} {
		m := soup(rng, n)
		ix := build(t, m)
		for q := 0; q < 400; q++ {
			p := mesh.Vec{rng.Float64()*4 - 2, rng.Float64()*4 - 2, rng.Float64()*4 - 2}
			if q%3 == 0 {
				p = m.At(uint32(rng.IntN(len(m.Pos))))
			}
			want, tri := math.Inf(1), uint32(0)
			for i := range m.Tri {
				a, b, c := m.Corner(i)
				if d := p.Sub(slowClosest(a, b, c, p)).Len(); d < want {
					want, tri = d, uint32(i)
				}
			}
			h, ok := ix.Closest(p, 0)
			if !ok || math.Abs(h.DistM-want) > 1e-9 {
				t.Fatalf("%d triangles, %v: got %v on %d, want %v on %d", n, p, h.DistM, h.Tri, want, tri)
			}
			a, b, c := m.Corner(int(h.Tri))
			at := a.Add(b.Sub(a).Scale(h.Bary[0])).Add(c.Sub(a).Scale(h.Bary[1]))
			if at.Sub(h.Pos).Len() > 1e-12 || math.Abs(p.Sub(h.Pos).Len()-h.DistM) > 1e-12 {
				t.Fatalf("weights, point and distance disagree: %+v", h)
			}
			if h.Bary[0] < 0 || h.Bary[1] < 0 || h.Bary[0]+h.Bary[1] > 1+1e-15 {
				t.Fatalf("weights outside the triangle: %+v", h)
			}
		}
	}
}

func TestTiesGoToTheLowestTriangle(t *testing.T) {
	m := sphere(12, 24, 1, mesh.Vec{})
	first := make(map[uint32]uint32)
	for i, tri := range m.Tri {
		for _, v := range tri {
			if _, ok := first[v]; !ok {
				first[v] = uint32(i)
			}
		}
	}
	ix := build(t, m)
	for v := range m.Pos {
		if h, _ := ix.Closest(m.At(uint32(v)), 0); h.Tri != first[uint32(v)] || h.DistM != 0 {
			t.Errorf("vertex %d: triangle %d at %v, want %d", v, h.Tri, h.DistM, first[uint32(v)])
		}
	}
}

func TestManyAtOnceIsTheSameAsOneByOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	m := soup(rng, 2000)
	ix := build(t, m)
	pts := make([]mesh.Vec, 9000)
	for i := range pts {
		pts[i] = mesh.Vec{rng.Float64() * 3, rng.Float64() * 3, rng.Float64() * 3}
	}
	hits, ok, err := ix.ClosestAll(ctx, len(pts), func(i int) mesh.Vec { return pts[i] }, .4)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range pts {
		h, o := ix.Closest(p, .4)
		if o != ok[i] || h != hits[i] {
			t.Fatalf("point %d: %+v alone, %+v in the batch", i, h, hits[i])
		}
	}
}

func TestOnlyTheTrianglesAskedFor(t *testing.T) {
	m := sphere(12, 24, 1, mesh.Vec{})
	ix, err := BuildSome(ctx, m, func(t int) bool { _, b, _ := m.Corner(t); return b[1] > .1 })
	if err != nil {
		t.Fatal(err)
	}
	if h, ok := ix.Closest(mesh.Vec{0, -1, 0}, 0); !ok || h.DistM < 1 {
		t.Errorf("got %+v", h)
	}
}

// Closed forms: equal spheres of radius R, centres d apart: mean |distance| d/2, RMS d/sqrt(3), signed
// mean d^2/(3R), max d.
func TestSphereOffset(t *testing.T) {
	const r, d = 1.0, .1
	a := sphere(200, 400, r, mesh.Vec{})
	b := sphere(200, 400, r, mesh.Vec{0, 0, d})
	ix := build(t, a)
	var sum, abs, sq, area, top float64
	for i := range b.Tri {
		p, q, s := b.Corner(i)
		mid := p.Add(q).Add(s).Scale(1. / 3)
		h, _ := ix.Closest(mid, 0)
		w, dist := b.TriangleArea(i), h.DistM
		if mid.Len() < r {
			dist = -dist
		}
		area += w
		sum += w * dist
		abs += w * math.Abs(dist)
		sq += w * dist * dist
		top = max(top, math.Abs(dist))
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"mean", abs / area, .05}, {"rms", math.Sqrt(sq / area), .0577350269},
		{"signed mean", sum / area, .0033333333}, {"max", top, .1},
	} {
		if math.Abs(c.got-c.want) > 2e-4 {
			t.Errorf("%s: %.6f, want %.6f", c.name, c.got, c.want)
		}
	}
}

func BenchmarkBuild500k(b *testing.B) {
	m := sphere(500, 500, 1, mesh.Vec{})
	b.ResetTimer()
	for range b.N {
		if _, err := Build(ctx, m); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkClosest500kOffset5mm(b *testing.B) { benchClosest(b, .005) }
func BenchmarkClosest500kAligned(b *testing.B)   { benchClosest(b, 0) }

func benchClosest(b *testing.B, off float64) {
	m, q := sphere(500, 500, 1, mesh.Vec{}), sphere(501, 499, 1+off, mesh.Vec{})
	ix, err := Build(ctx, m)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for range b.N {
		if _, _, err := ix.ClosestAll(ctx, len(q.Pos), func(i int) mesh.Vec { return q.At(uint32(i)) }, 0); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(q.Pos)), "ns/point")
}

func build(t *testing.T, m *mesh.Mesh) *Index {
	t.Helper()
	ix, err := Build(ctx, m)
	if err != nil {
		t.Fatal(err)
	}
	return ix
}

// soup is n random triangles, a third of them slivers, faces of no area or repeats.
func soup(rng *rand.Rand, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	v := func() [3]float32 {
		return [3]float32{rng.Float32()*2 - 1, rng.Float32()*2 - 1, rng.Float32()*2 - 1}
	}
	for i := 0; i < n; i++ {
		a := v()
		near := func(s float32) [3]float32 {
			d := v()
			return [3]float32{a[0] + s*d[0], a[1] + s*d[1], a[2] + s*d[2]}
		}
		b, c := near(.1), near(.1)
		switch i % 9 {
		case 1:
			for k := range c {
				c[k] = a[k] + (b[k]-a[k])*.3 + 1e-7*rng.Float32()
			}
		case 4:
			c = b
		case 7:
			b, c = a, a
		}
		k := uint32(len(m.Pos))
		m.Pos = append(m.Pos, a, b, c)
		m.Tri = append(m.Tri, [3]uint32{k, k + 1, k + 2})
		if i%9 == 8 {
			m.Tri[i] = m.Tri[i-1]
		}
	}
	return m
}

// slowClosest searches by halving on both sides of the triangle: independent of the fast form.
func slowClosest(a, b, c, p mesh.Vec) mesh.Vec {
	onSegment := func(u, v mesh.Vec) mesh.Vec {
		e := v.Sub(u)
		if e.Dot(e) == 0 {
			return u
		}
		return u.Add(e.Scale(min(1, max(0, p.Sub(u).Dot(e)/e.Dot(e)))))
	}
	best := onSegment(a, b)
	for _, q := range []mesh.Vec{onSegment(b, c), onSegment(c, a)} {
		if p.Sub(q).Len() < p.Sub(best).Len() {
			best = q
		}
	}
	n := b.Sub(a).Cross(c.Sub(a)).Unit()
	if n.Len() > 0 {
		q := p.Sub(n.Scale(p.Sub(a).Dot(n)))
		in := true
		for _, e := range [][2]mesh.Vec{{a, b}, {b, c}, {c, a}} {
			in = in && e[1].Sub(e[0]).Cross(q.Sub(e[0])).Dot(n) > 0
		}
		if in && p.Sub(q).Len() < p.Sub(best).Len() {
			best = q
		}
	}
	return best
}

// sphere is a closed latitude and longitude sphere.
func sphere(rows, cols int, r float64, at mesh.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	put := func(x, y, z float64) {
		m.Pos = append(m.Pos, [3]float32{float32(at[0] + r*x), float32(at[1] + r*y), float32(at[2] + r*z)})
	}
	put(0, 1, 0)
	for i := 1; i < rows; i++ {
		s, c := math.Sincos(math.Pi * float64(i) / float64(rows))
		for j := 0; j < cols; j++ {
			sj, cj := math.Sincos(2 * math.Pi * float64(j) / float64(cols))
			put(s*cj, c, s*sj)
		}
	}
	put(0, -1, 0)
	last := uint32(len(m.Pos) - 1)
	id := func(i, j int) uint32 { return uint32(1 + (i-1)*cols + j%cols) }
	for j := 0; j < cols; j++ {
		m.Tri = append(m.Tri, [3]uint32{0, id(1, j+1), id(1, j)}, [3]uint32{last, id(rows-1, j), id(rows-1, j+1)})
		for i := 1; i < rows-1; i++ {
			m.Tri = append(m.Tri, [3]uint32{id(i, j), id(i, j+1), id(i+1, j)}, [3]uint32{id(i, j+1), id(i+1, j+1), id(i+1, j)})
		}
	}
	return m
}
