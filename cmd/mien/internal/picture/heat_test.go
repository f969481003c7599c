package picture

import (
	"math"
	"testing"

	"mien/asset/texture"
)

func lab(v float64) texture.Lab { return texture.LabFromLinear(HeatColor(v, 1)) }

// deuteranope returns what a person without the middle-wavelength cones sees.
//
// Source: Vienot, Brettel, Mollon 1999, Color Research and Application 24(4): 243-252 [from memory].
func deuteranope(c [3]float32) texture.Lab {
	r, g, b := float64(c[0]), float64(c[1]), float64(c[2])
	l := 17.8824*r + 43.5161*g + 4.11935*b
	s := 0.0299566*r + 0.184309*g + 1.46709*b
	m := 0.494207*l + 1.24827*s
	return texture.LabFromLinear(clip([3]float32{
		float32(0.0809444479*l - 0.130504409*m + 0.116721066*s),
		float32(-0.0102485335*l + 0.0540193266*m - 0.113614708*s),
		float32(-0.000365296938*l - 0.00412161469*m + 0.693511405*s),
	}))
}

// Equal steps of the value are equal steps to the eye: within 12 % of the mean, over both arms.
func TestHeatIsEven(t *testing.T) {
	const steps = 20
	var all []float64
	sum := 0.0
	for i := -steps; i < steps; i++ {
		d := texture.DE00(lab(float64(i)/steps), lab(float64(i+1)/steps))
		all = append(all, d)
		sum += d
	}
	mean := sum / float64(len(all))
	t.Logf("mean step %.2f dE00", mean)
	for i, d := range all {
		if math.Abs(d/mean-1) > 0.12 {
			t.Errorf("step %d: %.3f dE00, mean is %.3f", i-steps, d, mean)
		}
	}
}

func TestHeatGetsDarkerOutward(t *testing.T) {
	for _, sign := range []float64{-1, 1} {
		for i := 0; i < 64; i++ {
			if a, b := lab(sign*float64(i)/64), lab(sign*float64(i+1)/64); b[0] >= a[0] {
				t.Errorf("sign %v step %d: lightness %v after %v", sign, i, b[0], a[0])
			}
		}
	}
	if d := lab(-1)[0] - lab(1)[0]; math.Abs(d) > 5 {
		t.Errorf("the ends differ by %v in lightness", d)
	}
}

func TestHeatIsReadableForColourBlindPeople(t *testing.T) {
	for i := 1; i <= 10; i++ {
		v := float64(i) / 10
		in, out := deuteranope(HeatColor(-v, 1)), deuteranope(HeatColor(v, 1))
		zero := deuteranope(HeatColor(0, 1))
		apart, a, b := texture.DE00(in, out), texture.DE00(in, zero), texture.DE00(out, zero)
		t.Logf("at %.1f: sides %.1f apart, %.1f and %.1f from the centre", v, apart, a, b)
		if apart < 30*v || a < 20*v || b < 20*v {
			t.Errorf("at %.1f: sides %.1f dE00 apart, %.1f and %.1f from the centre", v, apart, a, b)
		}
	}
}

func TestHeatIsInsideTheScreen(t *testing.T) {
	for arm := range heatTable {
		for _, c := range evenCurve(heatCentre, heatBend[arm], heatEnd[arm], heatSteps) {
			for k, x := range texture.LinearFromLab(c) {
				if x < 0 || x > 1 {
					t.Fatalf("arm %d: channel %d of %v is %v", arm, k, c, x)
				}
			}
		}
	}
}
