package surface

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/diff/result"
)

var ctx = context.Background()

// Closed forms: equal spheres of radius R, centres d apart: mean |distance| d/2, RMS d/sqrt(3), signed
// mean d^2/(3R), max d. Here R = 100 mm, d = 10 mm.
func TestSphereOffset(t *testing.T) {
	a, b := sphere(200, 400, .1, mesh.Vec{}), sphere(190, 410, .1, mesh.Vec{0, 0, .01})
	f := measured(t, b, a, Options{SpacingMm: 1, ReturnMm: 50})
	s, ok := f.Stats()
	if !ok {
		t.Fatal("nothing seen")
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"mean", s.MeanMm, 5}, {"rms", s.RMSMm, 10 / math.Sqrt(3)}, {"signed mean", s.SignedMeanMm, 100. / 300}, {"max", s.MaxMm, 10},
	} {
		if math.Abs(c.got-c.want) > .02 {
			t.Errorf("%s: %.4f mm, want %.4f", c.name, c.got, c.want)
		}
	}
}

// Concentric spheres: every statistic is the difference of radii, with the sign of the rule "> 0 where
// the new surface lies outside the old one" in both directions.
func TestSignIsTheSameBothWays(t *testing.T) {
	old, new := sphere(120, 240, .1, mesh.Vec{}), sphere(110, 250, .103, mesh.Vec{})
	there := measured(t, new, old, Options{SpacingMm: 2})
	back := measured(t, old, new, Options{SpacingMm: 2, FromIsOld: true})
	for _, f := range []*Field{there, back} {
		s, _ := f.Stats()
		for _, v := range []float64{s.MeanMm, s.RMSMm, s.P95Mm, s.P99Mm, s.MaxMm, s.SignedMeanMm} {
			if math.Abs(v-3) > .03 {
				t.Errorf("%+v, want 3 mm throughout", s)
				break
			}
		}
		if f.UncoveredM2() != 0 {
			t.Errorf("%.1f cm2 uncovered of two closed spheres", f.UncoveredM2()*1e4)
		}
	}
}

// Coarse or fine, ordered or shuffled triangles: samples stand for equal area, and any part of the
// surface gets its share of them.
func TestSamplesAreEven(t *testing.T) {
	m := sphere(150, 300, .1, mesh.Vec{})
	rng := rand.New(rand.NewPCG(3, 3))
	rng.Shuffle(len(m.Tri), func(i, j int) { m.Tri[i], m.Tri[j] = m.Tri[j], m.Tri[i] })
	for _, mm := range []float64{.3, 1, 4} {
		f := side(t, m).Sample(mm)
		var area float64
		for _, a := range f.AreaM2 {
			area += float64(a)
		}
		if math.Abs(area/m.Area()-1) > 1e-5 || math.Abs(f.SpacingMm/mm-1) > .02 {
			t.Errorf("spacing %g: area %.6f of %.6f, spacing %.4f", mm, area, m.Area(), f.SpacingMm)
		}
		for _, n := range []mesh.Vec{{1, 0, 0}, {0, 1, 0}, {.6, -.8, 0}} {
			var part float64
			for i := range f.Pos {
				if f.at(i).Dot(n) > .05 { // a cap of a quarter of the sphere
					part += float64(f.AreaM2[i])
				}
			}
			if off := math.Abs(part/area - .25); off > 1.5/math.Sqrt(float64(f.Len()))/3+.001 {
				t.Errorf("spacing %g, cap about %v: share %.4f, want .25", mm, n, part/area)
			}
		}
	}
}

func TestEachStateIsGiven(t *testing.T) {
	ball := sphere(80, 160, .1, mesh.Vec{})
	open := ball.Clone()
	open.Tri = slices.DeleteFunc(open.Tri, func(c [3]uint32) bool { return ball.Pos[c[0]][1] < -.05 })
	f := measured(t, ball, open, Options{SpacingMm: 3})
	for i, s := range f.State {
		deep := f.Pos[i][1] < -.06
		if deep && s == Seen || !deep && f.Pos[i][1] > -.045 && s != Seen {
			t.Fatalf("height %.3f: state %d", f.Pos[i][1], s)
		}
	}
	far := measured(t, sphere(20, 40, .1, mesh.Vec{1, 0, 0}), ball, Options{})
	if far.State[0] != Far || far.UncoveredM2() < .12 {
		t.Errorf("a ball 1 m away: state %d, %f m2 uncovered", far.State[0], far.UncoveredM2())
	}
	inside := ball.Clone()
	inside.Flip()
	if f := measured(t, inside, ball, Options{}); f.State[0] != Away {
		t.Errorf("turned inside out: state %d", f.State[0])
	}
	skin, hair := ball.Clone(), ball.Clone()
	skin.MaterialSet = []mesh.Material{{Name: "skin", Class: uint8(terms.Skin)}}
	hair.MaterialSet = []mesh.Material{{Name: "hair", Class: uint8(terms.HairClass)}}
	if f := measured(t, skin, hair, Options{}); f.State[0] != Unlike {
		t.Errorf("skin against hair: state %d", f.State[0])
	}
}

// Two sheets 2 mm apart, as of an ear: neighbours stay on their own sheet.
func TestNeighboursStayOnTheirSheet(t *testing.T) {
	m := sphere(80, 160, .05, mesh.Vec{})
	for i := range m.Pos {
		m.Pos[i][2] *= .02
	}
	f := side(t, m).Sample(1.5)
	n, err := f.Neighbours(ctx, 5)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < f.Len(); i++ {
		p := f.at(i)
		if math.Hypot(p[0], p[1]) > .04 {
			continue // the rim
		}
		for _, j := range n.Of(i) {
			if f.Pos[j][2]*f.Pos[i][2] < 0 {
				t.Fatal("a neighbour lies on the other sheet")
			}
		}
	}
	for _, i := range []int{0, f.Len() / 2, f.Len() - 1} {
		var want []uint32
		for j := range f.Pos {
			d := f.at(j).Sub(f.at(i)).Len()
			if d < .005-1e-7 && widen(f.Normal[i]).Dot(widen(f.Normal[j])) >= sheetCosine || i == j {
				want = append(want, uint32(j))
			}
		}
		if !slices.Equal(n.Of(i), want) {
			t.Errorf("sample %d: %v, want %v", i, n.Of(i), want)
		}
	}
}

// A cap and a ring on a ball: area by the closed form 2 pi r^2 (1-cos a).
func TestSpotsMeasureCaps(t *testing.T) {
	const r = .1
	f := side(t, sphere(100, 200, r, mesh.Vec{})).Sample(2)
	mark := make([]bool, f.Len())
	value := make([]float32, f.Len())
	for i := range mark {
		up := f.at(i)[1] / r
		switch {
		case up > math.Cos(.4):
			mark[i], value[i] = true, 3
		case up < math.Cos(math.Pi-.3) && up > math.Cos(math.Pi-.25):
			mark[i], value[i] = true, -2 // a ring 5 mm wide with a hole 50 mm wide
		}
	}
	spots, err := Spots(ctx, f, mark, value, value, SpotOptions{Layer: result.Shape})
	if err != nil || len(spots) != 2 {
		t.Fatalf("%d spots, %v; want 2", len(spots), err)
	}
	capCM2 := 2 * math.Pi * r * r * (1 - math.Cos(.4)) * 1e4
	s := spots[0]
	if math.Abs(s.AreaCM2/capCM2-1) > .02 || math.Abs(s.OutlineCM2/capCM2-1) > .05 {
		t.Errorf("cap: area %.2f, outline %.2f, want %.2f", s.AreaCM2, s.OutlineCM2, capCM2)
	}
	if s.Peak != 3 || s.Mean != 3 || math.Abs(*s.VolumeCM3-s.AreaCM2*.3) > 1e-6 {
		t.Errorf("cap: %+v", s.Spot)
	}
	if spots[1].Peak != -2 || spots[1].OutlineCM2 > 1.5*spots[1].AreaCM2 {
		t.Errorf("ring: %+v", spots[1].Spot)
	}
}

// The gaps between strokes belong to the outline, not to the area.
func TestOutlineBridgesStrokes(t *testing.T) {
	const r = .1
	f := side(t, sphere(100, 200, r, mesh.Vec{})).Sample(1)
	mark := make([]bool, f.Len())
	value := make([]float32, f.Len())
	for i := range mark {
		p := f.at(i)
		mark[i] = p[2] > 0 && math.Abs(p[0]) < .02 && math.Abs(p[1]) < .02 && (math.Mod(p[0]+1, .006) < .003 || math.Abs(p[1]) < .002)
		value[i] = 8
	}
	spots, _ := Spots(ctx, f, mark, value, value, SpotOptions{Layer: result.Colour, Percentile: .95, MinCM2: .1})
	if len(spots) != 1 {
		t.Fatalf("%d spots, want 1", len(spots))
	}
	if s := spots[0]; math.Abs(s.OutlineCM2-14.8) > .9 || s.AreaCM2 > 10 || s.AreaCM2 < 7 {
		t.Errorf("area %.2f, outline %.2f; want about 8.4 and 14.8", s.AreaCM2, s.OutlineCM2)
	}
}

// White noise of a known size: its scatter after smoothing follows, broad growth does not enter, and
// the family limits hold over many fields.
func TestNoiseAndFamily(t *testing.T) {
	f := side(t, sphere(100, 200, .1, mesh.Vec{})).Sample(2)
	n, _ := f.Neighbours(ctx, 5)
	use := make([]bool, f.Len())
	for i := range use {
		use[i] = true
	}
	fired := 0
	const rounds = 20
	for k := uint64(0); k < rounds; k++ {
		rng := rand.New(rand.NewPCG(k, 9))
		raw := make([]float32, f.Len())
		for i := range raw {
			raw[i] = float32(rng.NormFloat64())
		}
		smooth, _ := f.Smooth(ctx, n, 5, raw, use)
		var sq float64
		for _, v := range smooth {
			sq += float64(v) * float64(v)
		}
		want := math.Sqrt(sq / float64(len(smooth)))
		for i := range smooth {
			smooth[i] += float32(5 + 3*f.at(i)[1]/.1)
		}
		e, err := f.Noise(ctx, smooth, use, 5)
		if err != nil || math.Abs(e.SigmaMm/want-1) > .12 {
			t.Fatalf("sigma %.3f, want %.3f; %v", e.SigmaMm, want, err)
		}
		fam := NewFamily(.1257, e.WidthMm, 3, .05)
		mark := make([]bool, f.Len())
		for i := range smooth {
			smooth[i] -= float32(5 + 3*f.at(i)[1]/.1)
			mark[i] = math.Abs(float64(smooth[i])) > 3*e.SigmaMm
		}
		spots, _ := Spots(ctx, f, mark, smooth, smooth, SpotOptions{Layer: result.Shape})
		for _, s := range spots {
			if s.AreaCM2 >= fam.AreaCM2 || math.Abs(s.Peak) >= fam.PeakSigma*e.SigmaMm {
				fired++
				break
			}
		}
	}
	if fired > 4 { // 5 % of 20 is 1; more than 4 has a chance below .3 %
		t.Errorf("%d of %d noise fields gave a spot at level .05", fired, rounds)
	}
}

func TestTheSameBitsForAnyWorkers(t *testing.T) {
	a, b := sphere(60, 120, .1, mesh.Vec{}), sphere(50, 130, .1, mesh.Vec{0, 0, .004})
	f := measured(t, b, a, Options{})
	old := runtime.GOMAXPROCS(1)
	g := measured(t, b, a, Options{})
	runtime.GOMAXPROCS(old)
	if !slices.Equal(f.DistMm, g.DistMm) || !slices.Equal(f.OnTri, g.OnTri) || !slices.Equal(f.State, g.State) {
		t.Error("the field depends on the number of workers")
	}
}

func TestValuesReachThePositions(t *testing.T) {
	m := sphere(60, 120, .1, mesh.Vec{})
	f := side(t, m).Sample(2)
	f.From = m
	value, use := make([]float32, f.Len()), make([]bool, f.Len())
	for i := range value {
		value[i], use[i] = 100*f.Pos[i][0], f.Pos[i][1] > 0
	}
	got, err := f.ToVertices(ctx, value, use)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range m.Pos {
		if p[1] > .004 && math.Abs(float64(got[i]-100*p[0])) > .15 {
			t.Errorf("position %v: %f", p, got[i])
		}
		if p[1] < -.006 && got[i] == got[i] {
			t.Errorf("position %v: %f, want NaN", p, got[i])
		}
	}
}

func measured(t *testing.T, from, to *mesh.Mesh, o Options) *Field {
	t.Helper()
	f, err := Measure(ctx, side(t, from), side(t, to), o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func side(t *testing.T, m *mesh.Mesh) *Side {
	t.Helper()
	s, err := NewSide(ctx, m)
	if err != nil {
		t.Fatal(err)
	}
	return s
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
