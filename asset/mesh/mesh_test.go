package mesh

import (
	"context"
	"math"
	"testing"
)

// Values by computation from the closed forms (area 2*sqrt(3)*a^2 and 8*sqrt(3)... of regular solids).
func TestRegularSolids(t *testing.T) {
	for _, c := range []struct {
		name         string
		m            *Mesh
		area, volume float64
	}{
		{"unit cube", cube(), 6, 1},
		{"octahedron of circumradius 1", octahedron(), 6.9282032303, 4.0 / 3},
		{"icosahedron of circumradius 1", icosahedron(), 9.5745413833, 2.5361507101},
	} {
		if got := c.m.Area(); math.Abs(got-c.area) > 1e-6 {
			t.Errorf("%s: area %.10f, want %.10f", c.name, got, c.area)
		}
		if got := c.m.Volume(); math.Abs(got-c.volume) > 1e-6 {
			t.Errorf("%s: volume %.10f, want %.10f", c.name, got, c.volume)
		}
		f := c.m.Clone()
		f.Flip()
		if got := f.Volume(); math.Abs(got+c.volume) > 1e-6 {
			t.Errorf("%s flipped: volume %.10f, want %.10f", c.name, got, -c.volume)
		}
		mirror := c.m.Clone()
		mirror.Transform([16]float64{-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1})
		if got := mirror.Volume(); math.Abs(got-c.volume) > 1e-6 {
			t.Errorf("%s mirrored with winding mended: volume %.10f, want %.10f", c.name, got, c.volume)
		}
		for _, e := range c.m.Edges() {
			if e.Count != 2 {
				t.Errorf("%s: edge %v used %d times, want 2", c.name, e, e.Count)
			}
		}
		if _, n := c.m.Components(); n != 1 {
			t.Errorf("%s: %d components, want 1", c.name, n)
		}
	}
}

func TestNormalsPointOutward(t *testing.T) {
	m := icosahedron()
	for i, n := range m.VertexNormals() {
		if d := n.Dot(m.At(uint32(i)).Unit()); d < 0.999 {
			t.Errorf("vertex %d: normal off the radius, cosine %f", i, d)
		}
	}
}

func TestWeldMergesEqualBitsOnly(t *testing.T) {
	minus := float32(math.Copysign(0, -1))
	in := [][3]float32{{0, 1, 2}, {minus, 1, 2}, {0, 1, math.Nextafter32(2, 3)}, {0, 1, 2}}
	u, idx, err := Weld(context.Background(), in)
	if err != nil || len(u) != 2 {
		t.Fatalf("got %d unique, %v; want 2", len(u), err)
	}
	for i, want := range []uint32{0, 0, 1, 0} {
		if idx[i] != want {
			t.Errorf("index[%d] = %d, want %d", i, idx[i], want)
		}
	}
}

func TestOpenMeshHasBoundary(t *testing.T) {
	m := cube()
	m.Tri = m.Tri[1:]
	n := 0
	for _, b := range m.BoundaryVertices() {
		if b {
			n++
		}
	}
	if n != 3 {
		t.Errorf("%d boundary vertices after taking one triangle away, want 3", n)
	}
}

func TestCheckNamesThePlace(t *testing.T) {
	m := cube()
	m.Tri[4][1] = 99
	if err := m.Check(); err == nil || err.Error() != "triangle 4: vertex index 99 out of range 0 to 7" {
		t.Errorf("got %v", err)
	}
	m = cube()
	m.Pos[3][2] = float32(math.NaN())
	if err := m.Check(); err == nil || err.Error() != "vertex 3: coordinate z is NaN, allowed are finite numbers" {
		t.Errorf("got %v", err)
	}
}

func cube() *Mesh {
	m := &Mesh{}
	for i := 0; i < 8; i++ {
		m.Pos = append(m.Pos, [3]float32{float32(i & 1), float32(i >> 1 & 1), float32(i >> 2 & 1)})
	}
	for _, q := range [][4]uint32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Tri = append(m.Tri, [3]uint32{q[0], q[1], q[2]}, [3]uint32{q[0], q[2], q[3]})
	}
	return m
}

func octahedron() *Mesh {
	return &Mesh{
		Pos: [][3]float32{{1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}, {0, 0, -1}},
		Tri: [][3]uint32{{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}},
	}
}

func icosahedron() *Mesh {
	g := (1 + math.Sqrt(5)) / 2
	s := 1 / math.Sqrt(1+g*g)
	a, b := float32(s), float32(g*s)
	return &Mesh{
		Pos: [][3]float32{{-a, b, 0}, {a, b, 0}, {-a, -b, 0}, {a, -b, 0}, {0, -a, b}, {0, a, b}, {0, -a, -b}, {0, a, -b}, {b, 0, -a}, {b, 0, a}, {-b, 0, -a}, {-b, 0, a}},
		Tri: [][3]uint32{{0, 11, 5}, {0, 5, 1}, {0, 1, 7}, {0, 7, 10}, {0, 10, 11}, {1, 5, 9}, {5, 11, 4}, {11, 10, 2}, {10, 7, 6}, {7, 1, 8}, {3, 9, 4}, {3, 4, 2}, {3, 2, 6}, {3, 6, 8}, {3, 8, 9}, {4, 9, 5}, {2, 4, 11}, {6, 2, 10}, {8, 6, 7}, {9, 8, 1}},
	}
}
