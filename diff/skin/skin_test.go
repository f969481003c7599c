package skin

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestQuantileAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		v := make([]float64, 1+rng.IntN(40))
		for i := range v {
			v[i] = float64(rng.IntN(12))
		}
		sorted := slices.Sorted(slices.Values(v))
		for _, q := range []float64{0, 0.25, 0.5, 0.95, 1} {
			want := sorted[min(int(q*float64(len(v))), len(v)-1)]
			if got := Quantile(slices.Clone(v), q); got != want {
				t.Fatalf("quantile %v of %v is %v, want %v", q, sorted, got, want)
			}
		}
	}
}

// plate returns samples 2 mm apart on both faces of a plate 1 mm thick in the plane y = 0.
func plate(side int) (pos, normal [][3]float32, class []uint8, use []bool) {
	for face := range 2 {
		for i := range side {
			for j := range side {
				pos = append(pos, [3]float32{0.002 * float32(i), -0.001 * float32(face), 0.002 * float32(j)})
				normal = append(normal, [3]float32{0, 1 - 2*float32(face), 0})
				class = append(class, 1)
				use = append(use, true)
			}
		}
	}
	return pos, normal, class, use
}

func TestGridFindsWhatASearchOfAllFinds(t *testing.T) {
	pos, normal, _, _ := plate(24)
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range pos {
		for k := range 3 {
			pos[i][k] += 0.0007 * (rng.Float32() - 0.5)
		}
		pos[i][0] -= 0.02
	}
	g := NewGrid(pos, normal, 0.004)
	want := func(i int, r float64) (out []uint32) {
		for j := range pos {
			d := 0.0
			for k := range 3 {
				d += math.Pow(float64(pos[i][k]-pos[j][k]), 2)
			}
			if math.Sqrt(d) <= r && normal[i] == normal[j] {
				out = append(out, uint32(j))
			}
		}
		return out
	}
	found := make([][]uint32, len(pos))
	if err := g.Each(t.Context(), 0.004, func(i uint32, list []uint32) { found[i] = slices.Clone(list) }); err != nil {
		t.Fatal(err)
	}
	for i := range pos {
		for _, c := range []struct {
			got []uint32
			r   float64
		}{{found[i], 0.004}, {g.Near(pos[i], normal[i], 0.0075, nil), 0.0075}} {
			slices.Sort(c.got)
			if w := want(i, c.r); !slices.Equal(c.got, w) {
				t.Fatalf("sample %d within %v: %v, want %v", i, c.r, c.got, w)
			}
		}
	}
}

func TestBareSkinLooksPastInkAndShiftPastChanges(t *testing.T) {
	pos, normal, class, use := plate(80)
	lab := make([][3]float32, len(pos))
	shift := make([][3]float32, len(pos))
	for i, p := range pos {
		lab[i] = [3]float32{60, 14, 17}
		shift[i] = [3]float32{-2, 0, 1}
		if d := math.Hypot(float64(p[0])-0.08, float64(p[2])-0.08); d < 0.02 && normal[i][1] > 0 {
			lab[i] = [3]float32{30, 2, 2}
			shift[i] = [3]float32{-30, -12, -15}
		}
	}
	p := NewPatches(pos, normal, class, use)
	bare, err := p.Bare(t.Context(), lab)
	if err != nil {
		t.Fatal(err)
	}
	tint, err := p.Shift(t.Context(), shift)
	if err != nil {
		t.Fatal(err)
	}
	for i, k := range p.Of {
		if bare[k] != [3]float32{60, 14, 17} || tint[k] != [3]float32{-2, 0, 1} {
			t.Fatalf("sample %d: bare %v, tint %v", i, bare[k], tint[k])
		}
	}
}
