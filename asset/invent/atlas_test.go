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

func TestChartsDoNotOverlap(t *testing.T) {
	for _, family := range []Family{Tuning, Report} {
		m := lump(120)
		if m.Volume() < 0 {
			t.Fatal("the lump is inside out")
		}
		const size = 512
		if err := layOut(context.Background(), m, m.Pos, size, 7, family); err != nil {
			t.Fatal(err)
		}
		owner := make([]int32, size*size)
		twice, full := 0, 0
		for i, uv := range m.TriUV {
			p, q, r := m.UV[uv[0]], m.UV[uv[1]], m.UV[uv[2]]
			eachTexel(float64(p[0])*size, float64(p[1])*size, float64(q[0])*size, float64(q[1])*size, float64(r[0])*size, float64(r[1])*size, size, func(x, y int) bool {
				full++
				if owner[y*size+x] != 0 {
					twice++
				}
				owner[y*size+x] = int32(i + 1)
				return true
			})
		}
		if share := float64(full) / (size * size); share < 0.38 || float64(twice) > 0.0005*float64(full) {
			t.Errorf("family %d: %.3f of the atlas is used, %d texels belong to two triangles", family, share, twice)
		}
	}
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
