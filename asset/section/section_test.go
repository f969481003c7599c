package section

import (
	"math"
	"testing"

	"mien/asset/mesh"
)

// tube returns a closed elliptic cylinder along y from 0 to h, half-axes a (x) and b (z).
func tube(a, b, h float64, n int, at mesh.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	add := func(x, y, z float64) {
		m.Pos = append(m.Pos, [3]float32{float32(x + at[0]), float32(y + at[1]), float32(z + at[2])})
	}
	for i := 0; i < n; i++ {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		add(a*c, 0, b*s)
		add(a*c, h, b*s)
	}
	add(0, 0, 0)
	add(0, h, 0)
	for i := uint32(0); i < uint32(n); i++ {
		p, q := 2*i, 2*((i+1)%uint32(n))
		m.Tri = append(m.Tri, [3]uint32{p, p + 1, q}, [3]uint32{q, p + 1, q + 1},
			[3]uint32{p, q, uint32(2 * n)}, [3]uint32{p + 1, uint32(2*n + 1), q + 1})
	}
	return m
}

func join(ms ...*mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for _, m := range ms {
		k := uint32(len(out.Pos))
		out.Pos = append(out.Pos, m.Pos...)
		for _, t := range m.Tri {
			out.Tri = append(out.Tri, [3]uint32{t[0] + k, t[1] + k, t[2] + k})
		}
	}
	return out
}

func TestEllipseSection(t *testing.T) {
	m := tube(0.08, 0.05, 0.4, 720, mesh.Vec{1, 0, 2})
	// Perimeter by numeric integration of the ellipse's speed.
	var want float64
	for i := 0; i < 100000; i++ {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + .5) / 100000)
		want += math.Hypot(.08*s, .05*c) * 2 * math.Pi / 100000
	}
	loops := Cut(m, NewPlane(mesh.Vec{1, .2, 2}, mesh.Vec{0, 1, 0}), nil)
	if len(loops) != 1 || !loops[0].Closed {
		t.Fatalf("%d loops, want 1 closed", len(loops))
	}
	l := loops[0]
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"contour", l.Contour(), want}, {"tape", l.Tape(), want}, {"area", l.Area(), math.Pi * .08 * .05}} {
		if math.Abs(c.got/c.want-1) > 1e-3 {
			t.Errorf("%s %.6f, want %.6f", c.name, c.got, c.want)
		}
	}
	if d := l.Centroid().Sub(mesh.Vec{1, .2, 2}).Len(); d > 1e-6 {
		t.Errorf("centroid off by %g m", d)
	}
	if !l.Contains(mesh.Vec{1.05, .2, 2.01}) || l.Contains(mesh.Vec{1.09, .2, 2}) {
		t.Error("inside test wrong")
	}
}

func TestTapeBridgesAHollow(t *testing.T) {
	l := Loop{Plane: NewPlane(mesh.Vec{}, mesh.Vec{0, 1, 0}), Closed: true,
		Pts: [][2]float64{{0, 0}, {2, 0}, {2, 2}, {1, 1}, {0, 2}}}
	if got := l.Tape(); math.Abs(got-8) > 1e-12 {
		t.Errorf("tape %.6f, want 8", got)
	}
	if got, want := l.Contour(), 6+2*math.Sqrt2; math.Abs(got-want) > 1e-12 {
		t.Errorf("contour %.6f, want %.6f", got, want)
	}
	if got := l.Area(); math.Abs(got-3) > 1e-12 {
		t.Errorf("area %.6f, want 3", got)
	}
}

func TestOneOfSeveralComponents(t *testing.T) {
	m := join(tube(.1, .1, 1, 64, mesh.Vec{}), tube(.03, .03, 1, 64, mesh.Vec{.4, 0, 0}))
	loops := Cut(m, NewPlane(mesh.Vec{0, .5, 0}, mesh.Vec{0, 1, 0}), nil)
	if len(loops) != 2 {
		t.Fatalf("%d loops, want 2", len(loops))
	}
	l, _ := Nearest(loops, mesh.Vec{.38, .5, 0})
	if r := l.Contour() / (2 * math.Pi); math.Abs(r-.03) > 1e-4 {
		t.Errorf("radius %.4f, want .03", r)
	}
}

func TestOpenCurveKeepsBothHalves(t *testing.T) {
	m := tube(.1, .1, 1, 64, mesh.Vec{})
	loops := Cut(m, NewPlane(mesh.Vec{0, .5, 0}, mesh.Vec{0, 1, 0}), func(t int) bool { return t/4 != 10 })
	if len(loops) != 1 || loops[0].Closed {
		t.Fatalf("%d loops, closed %v; want one open", len(loops), loops[0].Closed)
	}
	if got, want := loops[0].Contour(), 2*math.Pi*.1*63/64; math.Abs(got/want-1) > 2e-3 {
		t.Errorf("length %.5f, want %.5f", got, want)
	}
}
