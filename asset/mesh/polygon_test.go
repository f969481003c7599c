package mesh

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
)

func area(p []Vec, tri [][3]uint32) (sum, least float64) {
	least = math.Inf(1)
	for _, t := range tri {
		a := p[t[1]].Sub(p[t[0]]).Cross(p[t[2]].Sub(p[t[0]]))[2] / 2
		sum, least = sum+a, min(least, a)
	}
	return sum, least
}

func TestCut(t *testing.T) {
	for _, c := range []struct {
		name string
		p    []Vec
		want [][3]uint32
	}{
		{"convex quadrilateral", []Vec{{0, 0}, {1, 0}, {1, 1}, {0, 1}}, [][3]uint32{{0, 1, 2}, {0, 2, 3}}},
		{"concave at 0", []Vec{{.4, .4}, {0, 1}, {0, 0}, {1, 0}}, [][3]uint32{{0, 1, 2}, {0, 2, 3}}},
		{"concave at 1", []Vec{{1, 0}, {.4, .4}, {0, 1}, {0, 0}}, [][3]uint32{{1, 2, 3}, {0, 1, 3}}},
		{"no area", []Vec{{0, 0}, {1, 0}, {2, 0}, {1, 0}}, [][3]uint32{{0, 1, 2}, {0, 2, 3}}},
	} {
		var k Cutter
		if got := k.Cut(c.p); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	// Star-shaped polygons in any plane: the triangles fill them once, and none is turned over.
	r := rand.New(rand.NewPCG(3, 4))
	var k Cutter
	for range 2000 {
		n := 4 + r.IntN(30)
		var p, placed []Vec
		want := 0.0
		for i := range n {
			a, s := 2*math.Pi*float64(i)/float64(n), 0.2+r.Float64()
			p = append(p, Vec{s * math.Cos(a), s * math.Sin(a)})
		}
		for i := range p {
			want += p[i].Cross(p[(i+1)%n])[2] / 2
			q := p[i]
			placed = append(placed, Vec{0.6*q[0] + 5, q[1], 0.8*q[0] - 3})
		}
		tri := k.Cut(placed)
		if got, least := area(p, tri); len(tri) != n-2 || math.Abs(got-want) > 1e-12 || least < -1e-12 {
			t.Fatalf("%d corners: %d triangles of area %v, least %v, want area %v", n, len(tri), got, least, want)
		}
	}
	comb := []Vec{}
	for i := range 400 {
		comb = append(comb, Vec{float64(i), float64(i % 2)})
	}
	comb = append(comb, Vec{400, -1}, Vec{0, -1})
	k = Cutter{Work: 1}
	for range 2 {
		if n := len(k.Cut(comb)); n != 400 {
			t.Errorf("%d triangles, want 400", n)
		}
	}
	if k.Fans != 2 {
		t.Errorf("%d fans, want both polygons", k.Fans)
	}
}
