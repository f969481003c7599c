package colour

import (
	"math"
	"testing"

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
