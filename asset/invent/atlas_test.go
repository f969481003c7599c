package invent

import (
	"context"
	"math"
	"testing"

	"mien/asset/mesh"
)

// lump is a closed bumpy ball of radius 0.1 m of n rings of n points.
func lump(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := func(i, j int) [3]float32 {
		th, ph := math.Pi*float64(i)/float64(n), 2*math.Pi*float64(j)/float64(n)
		r := 0.1 * (1 + 0.2*math.Sin(3*ph)*math.Sin(th)*math.Sin(th)*math.Cos(2*th))
		return [3]float32{float32(r * math.Sin(th) * math.Cos(ph)), float32(r * math.Cos(th)), float32(r * math.Sin(th) * math.Sin(ph))}
	}
	m.Pos = append(m.Pos, at(0, 0))
	for i := 1; i < n; i++ {
		for j := 0; j < n; j++ {
			m.Pos = append(m.Pos, at(i, j))
		}
	}
	m.Pos = append(m.Pos, at(n, 0))
	id := func(i, j int) uint32 {
		if i == 0 {
			return 0
		}
		if i == n {
			return uint32(len(m.Pos) - 1)
		}
		return uint32(1 + (i-1)*n + j%n)
	}
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			if i > 0 {
				m.Tri = append(m.Tri, [3]uint32{id(i, j), id(i, j+1), id(i+1, j)})
			}
			if i < n-1 {
				m.Tri = append(m.Tri, [3]uint32{id(i, j+1), id(i+1, j+1), id(i+1, j)})
			}
		}
	}
	return m
}

// stair is a spiral ramp of eight turns around the Y axis: its normals are almost parallel and its
// turns lie above each other.
func stair() *mesh.Mesh {
	m := &mesh.Mesh{}
	const n, rows = 640, 8
	for i := 0; i <= n; i++ {
		sin, cos := math.Sincos(16 * math.Pi * float64(i) / n)
		for j := 0; j <= rows; j++ {
			r := 0.05 + 0.05*float64(j)/rows
			m.Pos = append(m.Pos, [3]float32{float32(r * cos), float32(0.16 * float64(i) / n), float32(-r * sin)})
		}
	}
	for i := uint32(0); i < n; i++ {
		for j := uint32(0); j < rows; j++ {
			a, b := i*(rows+1)+j, (i+1)*(rows+1)+j
			m.Tri = append(m.Tri, [3]uint32{a, a + 1, b + 1}, [3]uint32{a, b + 1, b})
		}
	}
	return m
}

func TestChartsDoNotOverlap(t *testing.T) {
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		share float64
	}{{"lump", lump(120), 0.38}, {"stair", stair(), 0.2}} {
		for _, family := range []Family{Tuning, Report} {
			const size = 512
			if err := layOut(context.Background(), c.m, c.m.Pos, size, 7, family); err != nil {
				t.Fatal(err)
			}
			chart := chartsOf(c.m)
			owner := make([]uint32, size*size)
			twice, full := 0, 0
			for _, uv := range c.m.TriUV {
				p, q, r := c.m.UV[uv[0]], c.m.UV[uv[1]], c.m.UV[uv[2]]
				eachTexel(float64(p[0])*size, float64(p[1])*size, float64(q[0])*size, float64(q[1])*size, float64(r[0])*size, float64(r[1])*size, size, func(x, y int) bool {
					full++
					if owner[y*size+x] != 0 {
						twice++
					}
					owner[y*size+x] = chart[uv[0]] + 1
					return true
				})
			}
			if share := float64(full) / (size * size); share < c.share || float64(twice) > 0.0005*float64(full) {
				t.Errorf("%s, family %d: %.3f of the atlas is used, %d texels belong to two triangles", c.name, family, share, twice)
			}
			near := 0
			for y := 0; y < size-gutterTexels; y++ {
				for x := 0; x < size-gutterTexels; x++ {
					a := owner[y*size+x]
					for d := 1; d <= gutterTexels && a != 0; d++ {
						if b, e := owner[y*size+x+d], owner[(y+d)*size+x]; b != 0 && b != a || e != 0 && e != a {
							near++
						}
					}
				}
			}
			if near > 0 {
				t.Errorf("%s, family %d: %d texels lie within the gutter of another chart", c.name, family, near)
			}
		}
	}
}

// chartsOf numbers the charts that texture coordinates belong to.
func chartsOf(m *mesh.Mesh) []uint32 {
	of := make([]uint32, len(m.UV))
	for i := range of {
		of[i] = uint32(i)
	}
	root := func(i uint32) uint32 {
		for of[i] != i {
			i = of[i]
		}
		return i
	}
	for _, t := range m.TriUV {
		for _, v := range t {
			a, b := root(t[0]), root(v)
			of[max(a, b)] = min(a, b)
		}
	}
	for i := range of {
		of[i] = root(uint32(i))
	}
	return of
}

func BenchmarkLayOut(b *testing.B) {
	m := lump(180)
	for b.Loop() {
		if err := layOut(context.Background(), m, m.Pos, 1024, 7, Tuning); err != nil {
			b.Fatal(err)
		}
	}
}
func BenchmarkBake(b *testing.B) {
	m := lump(180)
	if err := layOut(context.Background(), m, m.Pos, 1024, 7, Tuning); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		x, _ := bake(context.Background(), m, 1024, func(t int, w, dx, dy [3]float32) [3]float32 { return w })
		x.image(1, newRandom(1, "x"))
	}
}
