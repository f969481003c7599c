package align

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"mien/asset/mesh"
)

var ctx = context.Background()

// Input of Umeyama 1991, IEEE TPAMI 13(4):376-380 (second hand); values by computation.
func TestSimilarityOfThePublishedExample(t *testing.T) {
	from := []mesh.Vec{{0, 0, 0}, {1, 0, 0}, {0, 2, 0}}
	to := []mesh.Vec{{0, 0, 0}, {-1, 0, 0}, {0, 2, 0}}
	// In space a half turn would fit without error; the example asks for the best turn in the plane.
	p, scale, sq, err := similarity(2, from, to, nil)
	if err != nil {
		t.Fatal(err)
	}
	s := math.Sqrt(13)
	for i, want := range []float64{3 / s, 2 / s, 0, -2 / s, 3 / s, 0} {
		if math.Abs(p.R[i]-want) > 1e-9 {
			t.Errorf("R[%d] = %.10f, want %.10f", i, p.R[i], want)
		}
	}
	if math.Abs(scale-.7211102551) > 1e-9 || math.Abs(sq-8./15) > 1e-9 {
		t.Errorf("scale %.10f, mean square %.10f; want .7211102551, %.10f", scale, sq, 8./15)
	}
	if math.Abs(p.T[0]+.8) > 1e-9 || math.Abs(p.T[1]-.4) > 1e-9 {
		t.Errorf("translation %v, want -.8, .4", p.T)
	}
}

func TestSimilarityBringsPointsBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for k := 0; k < 50; k++ {
		want := Rotation(mesh.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})
		want.T = mesh.Vec{rng.Float64(), rng.Float64(), rng.Float64()}
		s := .5 + rng.Float64()
		var from, to []mesh.Vec
		for i := 0; i < 12; i++ {
			p := mesh.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
			from, to = append(from, p), append(to, want.Turn(p).Scale(s).Add(want.T))
		}
		p, scale, sq, err := Similarity(from, to, nil)
		if err != nil || math.Abs(scale-s) > 1e-9 || sq > 1e-12 || p.T.Sub(want.T).Len() > 1e-9 {
			t.Fatalf("got %v %v %v %v, want %v %v", p, scale, sq, err, want, s)
		}
	}
	if _, _, _, err := Similarity([]mesh.Vec{{1, 1, 1}, {1, 1, 1}}, []mesh.Vec{{1, 1, 1}, {2, 1, 1}}, nil); err == nil {
		t.Error("coinciding points gave a similarity")
	}
}

func TestPoseAlgebra(t *testing.T) {
	a := Rotation(mesh.Vec{.3, -.8, .2})
	a.T = mesh.Vec{1, 2, 3}
	p := mesh.Vec{.4, .5, .6}
	if d := a.Inverse().Apply(a.Apply(p)).Sub(p).Len(); d > 1e-14 {
		t.Errorf("inverse misses by %g", d)
	}
	if d := mesh.Apply(a.Matrix(), p).Sub(a.Apply(p)).Len(); d > 1e-14 {
		t.Errorf("matrix misses by %g", d)
	}
}

// A lumpy head, another topology, any turn, a lean, a shift: the truth must come back.
func TestAnyStartComesHome(t *testing.T) {
	old := lump(70, 90, 0, nil)
	for k, c := range []struct {
		yaw, lean float64
		shift     mesh.Vec
	}{
		{0, 0, mesh.Vec{}}, {180, 0, mesh.Vec{1, 0, 0}}, {77, 10, mesh.Vec{0, .4, -1}},
		{-120, 28, mesh.Vec{.3, -.9, .2}}, {33, -28, mesh.Vec{-1, 0, 0}},
	} {
		truth := Rotation(mesh.Vec{0, c.yaw * math.Pi / 180, 0}).After(Rotation(mesh.Vec{c.lean * math.Pi / 180, 0, 0}))
		truth.T = c.shift
		new := lump(61, 97, .4, nil)
		new.Transform(truth.Inverse().Matrix())
		a, err := Rigid(ctx, old, new, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if d := worstMm(a.Pose, truth); d > .1 {
			t.Errorf("case %d: off by %.3f mm; %+v", k, d, a)
		}
		if !a.Converged || len(a.Why) > 0 || a.SameTopology || a.Overlap < .97 || a.Mirrored != "no" {
			t.Errorf("case %d: %+v", k, a)
		}
		if math.Abs(a.Scale-1) > 2e-4 {
			t.Errorf("case %d: free scale %.5f", k, a.Scale)
		}
	}
}

// A grown patch of a fifth of the surface must not drag the rest.
func TestChangedAreaDoesNotDrag(t *testing.T) {
	old := lump(70, 90, 0, nil)
	new := lump(61, 97, .4, func(d mesh.Vec) float64 {
		return .008 * smoothstep(.45, .75, d.Dot(mesh.Vec{.6, .5, -.6245}))
	})
	truth := Rotation(mesh.Vec{.1, .6, 0})
	truth.T = mesh.Vec{.2, 0, .1}
	new.Transform(truth.Inverse().Matrix())
	a, err := Rigid(ctx, old, new, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := worstMm(a.Pose, truth); d > .15 {
		t.Errorf("off by %.3f mm; %+v", d, a)
	}
}

func TestSameTopologyStartsFromNumbers(t *testing.T) {
	old := lump(70, 90, 0, nil)
	new := lump(70, 90, 0, nil)
	truth := Rotation(mesh.Vec{0, 2.5, .2})
	new.Transform(truth.Inverse().Matrix())
	a, err := Rigid(ctx, old, new, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !a.SameTopology || !a.Correspondence || worstMm(a.Pose, truth) > .01 {
		t.Errorf("off by %.4f mm; %+v", worstMm(a.Pose, truth), a)
	}
}

func TestSphereSlides(t *testing.T) {
	ball := func(rows, cols int) *mesh.Mesh {
		return radial(rows, cols, 0, func(mesh.Vec) float64 { return .1 })
	}
	a, err := Rigid(ctx, ball(60, 90), ball(57, 95), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !a.Slides || len(a.Why) == 0 {
		t.Errorf("%+v", a)
	}
}

func TestMirrorImageIsNoticed(t *testing.T) {
	old, new := lump(70, 90, 0, nil), lump(61, 97, .4, nil)
	new.Transform([16]float64{-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1})
	a, err := Rigid(ctx, old, new, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if a.Mirrored != "yes" || len(a.Why) == 0 {
		t.Errorf("%+v", a)
	}
}

func TestScaleAndUnitAreReported(t *testing.T) {
	old, new := lump(70, 90, 0, nil), lump(61, 97, .4, nil)
	s := 100 * 1.006
	new.Transform([16]float64{s, 0, 0, 0, 0, s, 0, 0, 0, 0, s, 0, 0, 0, 0, 1})
	a, err := Rigid(ctx, old, new, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if a.UnitRatio != .01 || math.Abs(a.Scale-1/1.006) > .0005 {
		t.Errorf("%+v", a)
	}
}

func TestTheSameBitsTwice(t *testing.T) {
	old, new := lump(40, 50, 0, nil), lump(31, 57, .4, nil)
	a, _ := Rigid(ctx, old, new, Options{})
	b, _ := Rigid(ctx, old, new, Options{})
	if a.Pose != b.Pose || a.RMSMm != b.RMSMm || a.Scale != b.Scale {
		t.Errorf("%+v and %+v", a, b)
	}
}

func BenchmarkRigidHead(b *testing.B) {
	old, new := lump(150, 250, 0, nil), lump(141, 261, .4, nil)
	b.ResetTimer()
	for range b.N {
		if _, err := Rigid(ctx, old, new, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func worstMm(a, b Pose) float64 {
	var d float64
	inv := b.Inverse() // compare in the new scan's own frame, near its centre
	for k := 0; k < 3; k++ {
		var e mesh.Vec
		e[k] = .12
		p := inv.Apply(e)
		d = max(d, a.Apply(p).Sub(e).Len())
	}
	return d * 1000
}

func smoothstep(a, b, x float64) float64 {
	t := min(1, max(0, (x-a)/(b-a)))
	return t * t * (3 - 2*t)
}

// lump is a head-sized closed surface with a nose, two unequal ears and a chin.
func lump(rows, cols int, turn float64, grow func(d mesh.Vec) float64) *mesh.Mesh {
	bump := func(d mesh.Vec, at mesh.Vec, wide, high float64) float64 {
		return high * smoothstep(1-wide, 1, d.Dot(at.Unit()))
	}
	return radial(rows, cols, turn, func(d mesh.Vec) float64 {
		r := 1 / math.Sqrt(d[0]*d[0]/(.075*.075)+d[1]*d[1]/(.12*.12)+d[2]*d[2]/(.095*.095))
		r += bump(d, mesh.Vec{0, -.1, 1}, .05, .022) + bump(d, mesh.Vec{1, 0, -.1}, .06, .018) + bump(d, mesh.Vec{-1, .05, -.1}, .06, .015)
		r += bump(d, mesh.Vec{.05, -.8, .6}, .1, .008) + .002*math.Sin(9*d[0]+4*d[1])
		if grow != nil {
			r += grow(d)
		}
		return r
	})
}

// radial is a latitude and longitude mesh of r(direction); turn shifts its rows and columns.
func radial(rows, cols int, turn float64, r func(d mesh.Vec) float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	tilt := Rotation(mesh.Vec{turn, turn / 2, 0})
	put := func(x, y, z float64) {
		d := tilt.Turn(mesh.Vec{x, y, z})
		p := d.Scale(r(d))
		m.Pos = append(m.Pos, [3]float32{float32(p[0]), float32(p[1]), float32(p[2])})
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
