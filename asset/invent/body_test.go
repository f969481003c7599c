package invent

import (
	"context"
	"math"
	"slices"
	"testing"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/terms"
)

func surfaceOf(t testing.TB, p Person, look Look, c Capture, part asset.Part) *Surface {
	t.Helper()
	s, err := p.Surface(context.Background(), look, c, part)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Mesh.Check(); err != nil {
		t.Fatal(err)
	}
	return s
}

func TestBodiesAreClosed(t *testing.T) {
	for _, c := range []struct {
		name   string
		family Family
		look   Look
		part   asset.Part
	}{
		{"barefoot", Tuning, Look{}, asset.PartBody},
		{"shod", Report, Look{Shoes: Shoe{Model: 2}, Hair: Long, Beard: FullBeard}, asset.PartBody},
		{"capped", Tuning, Look{Shoes: Shoe{Model: 5}, Cap: true, Hair: Curly, HeavierMm: 6}, asset.PartBody},
		{"shoe", Tuning, Look{Shoes: Shoe{Model: 4}}, asset.PartShoeRight},
	} {
		for seed := uint64(1); seed <= 2; seed++ {
			s := surfaceOf(t, NewPerson(c.family, seed), c.look, Capture{GridMm: 11, GridTurnDeg: 11 * float64(seed)}, c.part)
			for _, e := range s.Mesh.Edges() {
				if e.Count != 2 {
					t.Fatalf("%s %d: edge %v used %d times, want 2", c.name, seed, e, e.Count)
				}
			}
			if _, n := s.Mesh.Components(); n != 1 {
				t.Errorf("%s %d: %d components, want 1", c.name, seed, n)
			}
			if v := s.Mesh.Volume(); v < .0005 {
				t.Errorf("%s %d: volume %g m3", c.name, seed, v)
			}
			if u, _, _ := mesh.Weld(context.Background(), s.Mesh.Pos); len(u) != len(s.Mesh.Pos) {
				t.Errorf("%s %d: %d positions, %d distinct", c.name, seed, len(s.Mesh.Pos), len(u))
			}
		}
	}
}

func TestHeadIsOpenOnlyAtTheNeck(t *testing.T) {
	p := NewPerson(Tuning, 5)
	s := surfaceOf(t, p, Look{Hair: Short}, Capture{GridMm: 4}, asset.PartHead)
	chin := p.base.plan.head.at[1] / 1000
	n := 0
	for i, open := range s.Mesh.BoundaryVertices() {
		if !open {
			continue
		}
		n++
		if y := float64(s.Clean[i][1]); y > chin {
			t.Fatalf("boundary at height %.3f m, above the chin at %.3f m", y, chin)
		}
	}
	if n < 20 {
		t.Errorf("%d boundary vertices, want a rim around the neck", n)
	}
}

func TestSurfaceIsTheSameEveryTime(t *testing.T) {
	look := Look{Hair: Curly, Beard: ShortBeard, Shoes: Shoe{Model: 1}}
	c := Capture{Seed: 9, GridMm: 12, NoiseMm: .2, NoiseCorrMm: .4, BreathMm: 3, Holes: 2, Smooth: 1}
	a := surfaceOf(t, NewPerson(Report, 7), look, c, asset.PartBody)
	b := surfaceOf(t, NewPerson(Report, 7), look, c, asset.PartBody)
	if !slices.Equal(a.Mesh.Pos, b.Mesh.Pos) || !slices.Equal(a.Mesh.Tri, b.Mesh.Tri) || !slices.Equal(a.Anchor, b.Anchor) ||
		!slices.Equal(a.Mesh.Label, b.Mesh.Label) || !slices.Equal(a.Mesh.Material, b.Mesh.Material) {
		t.Error("two runs differ")
	}
	c.Seed++
	if d := surfaceOf(t, NewPerson(Report, 7), look, c, asset.PartBody); slices.Equal(a.Mesh.Pos, d.Mesh.Pos) {
		t.Error("another seed of the noise gives the same positions")
	}
}

func TestLabelsCoverTheBody(t *testing.T) {
	for _, f := range []Family{Tuning, Report} {
		s := surfaceOf(t, NewPerson(f, 3), Look{}, Capture{GridMm: 7}, asset.PartBody)
		var n [terms.RegionCount]int
		var x [terms.RegionCount]float64
		for i, l := range s.Mesh.Label {
			n[l]++
			x[l] += float64(s.Clean[i][0])
		}
		for r := terms.Scalp; r < terms.Teeth; r++ {
			if n[r] < 8 {
				t.Errorf("family %d: %s has %d vertices", f, r, n[r])
				continue
			}
			name := r.String()
			if m := x[r] / float64(n[r]); len(name) > 5 && name[len(name)-5:] == "-left" && m < .01 || len(name) > 6 && name[len(name)-6:] == "-right" && m > -.01 {
				t.Errorf("family %d: %s lies at x = %.3f m on average", f, name, m)
			}
		}
		if n[terms.NoRegion] > 0 {
			t.Errorf("family %d: %d vertices without a region", f, n[terms.NoRegion])
		}
	}
}

// The base field's zero set is the exact surface: anchors lie on it, and triangles keep near it for
// every grid, so that two grids agree.
func TestGridsAgreeOnTheSurface(t *testing.T) {
	p := NewPerson(Tuning, 8)
	for _, c := range []struct {
		part             asset.Part
		gridMm, turn     float64
		p95Mm, worst99Mm float64
	}{
		{asset.PartBody, 7, 0, .3, .7}, {asset.PartBody, 7, 31, .3, .7}, {asset.PartHead, 2.5, 0, .1, .3}, {asset.PartHead, 2.5, 17, .1, .3},
	} {
		s := surfaceOf(t, p, Look{}, Capture{GridMm: c.gridMm, GridTurnDeg: c.turn, GridShift: mesh.Vec{.3, .1, .6}}, c.part)
		off := 0
		for i, a := range s.Anchor {
			q := millimetres(a)
			if d := math.Abs(p.base.distance(q)); d > .02 {
				off++
			}
			if s.Mesh.Label[i] != uint8(p.RegionAt(a)) {
				t.Fatalf("%s: label %d at an anchor of region %s", c.part, s.Mesh.Label[i], p.RegionAt(a))
			}
		}
		if share := float64(off) / float64(len(s.Anchor)); share > .004 {
			t.Errorf("%s grid %g: %.3f %% of anchors off the surface by over 0.02 mm", c.part, c.gridMm, 100*share)
		}
		d := make([]float64, len(s.Mesh.Tri))
		for k, tri := range s.Mesh.Tri {
			m := millimetres(s.Anchor[tri[0]]).Add(millimetres(s.Anchor[tri[1]])).Add(millimetres(s.Anchor[tri[2]])).Scale(1. / 3)
			d[k] = math.Abs(p.base.distance(m))
		}
		slices.Sort(d)
		q95, q99 := d[len(d)*95/100], d[len(d)*99/100]
		t.Logf("%s grid %g turn %g: middle of triangles off by %.3f mm (95 %%), %.3f mm (99 %%), %.3f mm at most", c.part, c.gridMm, c.turn, q95, q99, d[len(d)-1])
		if q95 > c.p95Mm || q99 > c.worst99Mm {
			t.Errorf("%s grid %g turn %g: off by %.3f mm (95 %%), %.3f mm (99 %%)", c.part, c.gridMm, c.turn, q95, q99)
		}
	}
}

// Slow oracle: all operations in order, without the cells.
func TestFieldCellsLeaveNothingOut(t *testing.T) {
	p := NewPerson(Tuning, 2)
	f := p.base.body
	s := surfaceOf(t, p, Look{}, Capture{GridMm: 10}, asset.PartBody)
	r := newRandom(1, "probe")
	var worst [2]float64 // within 1 mm of the surface, within 8 mm
	for i, a := range s.Anchor {
		off := r.between(-8, 8)
		q := millimetres(a).Add(millimetres(s.AnchorNormal[i]).Scale(.001 * off))
		d := farAway
		for k := range f.ops {
			d = f.ops[k].apply(q, d)
		}
		e := math.Abs(d - f.value(q))
		worst[1] = max(worst[1], e)
		if math.Abs(off) < 1 {
			worst[0] = max(worst[0], e)
		}
	}
	t.Logf("field by cells off by %.4f mm within 1 mm of the surface, %.4f within 8 mm", worst[0], worst[1])
	if worst[0] > .02 || worst[1] > .3 {
		t.Errorf("field by cells off by %.4f mm within 1 mm of the surface, %.4f within 8 mm", worst[0], worst[1])
	}
}

func TestFamiliesDiffer(t *testing.T) {
	var mean [2]float64
	for f := range mean {
		lo, hi := [2]float64{1.70, 1.62}[f], [2]float64{2.05, 1.96}[f]
		for seed := uint64(0); seed < 40; seed++ {
			p := NewPerson(Family(f), seed)
			mean[f] += p.HeightM / 40
			if p.HeightM < lo || p.HeightM > hi || p.Tone < 0 || p.Tone > 5 {
				t.Fatalf("family %d seed %d: height %.2f m, tone %d", f, seed, p.HeightM, p.Tone)
			}
		}
	}
	if mean[0]-mean[1] < .04 {
		t.Errorf("mean heights %.3f and %.3f m", mean[0], mean[1])
	}
	p := NewPerson(Tuning, 12)
	s := surfaceOf(t, p, Look{}, Capture{GridMm: 8}, asset.PartBody)
	lo, hi, _ := s.Mesh.Bounds()
	if h := hi[1] - lo[1]; math.Abs(h-p.HeightM) > .012 || math.Abs(lo[1]) > .003 {
		t.Errorf("stature %.3f m from %.4f, want %.3f from 0", h, lo[1], p.HeightM)
	}
}

func BenchmarkBody7mm(b *testing.B) { benchmarkSurface(b, Capture{GridMm: 7}, asset.PartBody) }

func BenchmarkHead2p5mm(b *testing.B) { benchmarkSurface(b, Capture{GridMm: 2.5}, asset.PartHead) }

func benchmarkSurface(b *testing.B, c Capture, part asset.Part) {
	p := NewPerson(Tuning, 1)
	look := Look{Hair: Short, Shoes: Shoe{Model: 1}}
	c.NoiseMm, c.NoiseCorrMm = .2, .4
	for b.Loop() {
		s := surfaceOf(b, p, look, c, part)
		b.ReportMetric(float64(len(s.Mesh.Pos)), "vertices")
	}
}
