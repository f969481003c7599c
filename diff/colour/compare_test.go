package colour

import (
	"math"
	"testing"

	"mien/asset"
	"mien/asset/texture"
	"mien/diff/result"
)

func TestUnchangedLimbUnderOtherAtlasAndLightShowsNothing(t *testing.T) {
	// An old patch of ink runs over both atlases' seams.
	painted := disc(disc(skinTone, 0, 0.1, 0.02, 25), 2.2, 0.2, 0.02, 25)
	n := newLimb(painted)
	n.light = func(th, y float64) [3]float64 {
		g := 1 + 0.12*math.Cos(th-1)
		return [3]float64{1.10 * g, g, 0.9 * g}
	}
	out := compareLimbs(t, oldLimb(painted), n)
	if out.Verdict != result.Same || len(out.Spots) != 0 {
		t.Fatalf("verdict %s, %d spots, first %+v", out.Verdict, len(out.Spots), out.Spots)
	}
	if *out.Layer.P95DE00 > 1.5 {
		t.Errorf("p95 is %.2f dE00, want at most 1.5", *out.Layer.P95DE00)
	}
	t.Logf("mean %.2f p95 %.2f residual %.2f", *out.Layer.MeanDE00, *out.Layer.P95DE00, *out.Layer.Light.ResidualDE00)
}

func TestNewInkIsFoundWithItsArea(t *testing.T) {
	const r = 0.02
	want := math.Pi * r * r * 1e4
	for _, dL := range []float64{10, 25} {
		out := compareLimbs(t, oldLimb(skinTone), newLimb(disc(skinTone, 2.2, 0.2, r, dL)))
		if len(out.Spots) != 1 || !out.Info[0].OnNew {
			t.Fatalf("dL %v: %d spots, want 1 on the new surface: %+v", dL, len(out.Spots), out.Spots)
		}
		s := out.Spots[0]
		if math.Abs(s.AreaCM2/want-1) > 0.08 {
			t.Errorf("dL %v: area %.2f cm2, want %.2f within 8 %%", dL, s.AreaCM2, want)
		}
		t.Logf("dL %v: area %.2f of %.2f, outline %.2f, peak %.1f %+v", dL, s.AreaCM2, want, s.OutlineCM2, s.Peak, out.Info[0])
	}
}

func TestSwapExchangesGainedAndLost(t *testing.T) {
	plain, inked := oldLimb(skinTone), newLimb(disc(skinTone, 1, 0.15, 0.03, 20))
	gained, lost := compareLimbs(t, plain, inked), compareLimbs(t, inked, plain)
	if len(gained.Spots) != 1 || len(lost.Spots) != 1 || gained.Info[0].OnNew == lost.Info[0].OnNew {
		t.Fatalf("gained %+v\nlost %+v", gained.Info, lost.Info)
	}
	if a, b := gained.Spots[0].AreaCM2, lost.Spots[0].AreaCM2; a != b {
		t.Errorf("gained %.6f cm2, lost %.6f cm2", a, b)
	}
}

func TestSlippedInkIsNoChange(t *testing.T) {
	ring := func(shift float64) func(th, y float64) texture.Lab {
		c := disc(skinTone, 1+shift/limbRadius, 0.18+shift/2, 0.03, 25)
		return disc(disc(c, 1.3+shift/limbRadius, 0.14+shift/2, 0.008, 20), 0.8+shift/limbRadius, 0.23+shift/2, 0.01, 20)
	}
	for _, mm := range []float64{1.5, 8} {
		out := compareLimbs(t, oldLimb(ring(0)), newLimb(ring(mm/1000)))
		if len(out.Spots) != 0 {
			t.Errorf("slip %v mm: %d spots, first %.1f cm2 of %.1f dE00", mm, len(out.Spots), out.Spots[0].AreaCM2, out.Spots[0].Mean)
		}
		t.Logf("slip %v mm: causes %v", mm, out.Causes)
	}
}

func TestAlteredInkTouchesWhatStayed(t *testing.T) {
	before := disc(skinTone, 1, 0.18, 0.02, 25)
	after := disc(before, 1.8, 0.18, 0.02, 25)
	out := compareLimbs(t, oldLimb(before), newLimb(after))
	if len(out.Spots) != 1 || !out.Info[0].OnNew || out.Info[0].KeptCM2 < 2 {
		t.Fatalf("%d spots %+v", len(out.Spots), out.Info)
	}
}

func TestUnlikeLightsGiveNoVerdict(t *testing.T) {
	a, b := oldLimb(skinTone).scan(), newLimb(skinTone).scan()
	a.Light, b.Light = asset.LightCross, asset.LightParallel
	n, o := fields(t, a.Mesh, b.Mesh, 4)
	out, err := Compare(t.Context(), Input{Old: a, New: b, NewToOld: n, OldToNew: o})
	if err != nil || out.Verdict != result.NotCompared || out.Layer.WhyNot != "unlike lights: old cross, new parallel" {
		t.Fatalf("%+v, %v", out, err)
	}
	b.Light, b.BaseColor = asset.LightCross, nil
	out, err = Compare(t.Context(), Input{Old: a, New: b, NewToOld: n, OldToNew: o})
	if err != nil || out.Layer.WhyNot != "the new scan has no base colour" {
		t.Fatalf("%+v, %v", out, err)
	}
}

// BenchmarkCompareBody is a surface as large as a body's, 1.9 m2, at 2 mm samples, with one new tattoo.
func BenchmarkCompareBody(b *testing.B) {
	o, n := oldLimb(skinTone), newLimb(disc(skinTone, 2.2, 0.2, 0.01, 20))
	o.scale, n.scale = 4.1, 4.1
	o.size, n.size = 1024, 1024
	o.along, o.around, n.along, n.around = 200, 200, 210, 190
	x, y := o.scan(), n.scan()
	newToOld, oldToNew := fields(b, x.Mesh, y.Mesh, 2)
	for b.Loop() {
		if _, err := Compare(b.Context(), Input{Old: x, New: y, NewToOld: newToOld, OldToNew: oldToNew}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(newToOld.Len()), "samples")
}
