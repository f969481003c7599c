package measure

import (
	"context"
	"math"
	"strings"
	"testing"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// legTube returns one straight leg as an elliptic tube along -Y from the hip at the origin, half-axes a
// and b, with pelvis, thigh, knee, shin, calf, ankle and foot by height.
func legTube(a, b float64) *mesh.Mesh {
	const around, rings, length = 360, 200, 1.0
	m := &mesh.Mesh{}
	put := func(x, y, z float64) {
		m.Pos = append(m.Pos, [3]float32{float32(x), float32(y), float32(z)})
		r := terms.FootLeft
		switch h := -y; {
		case h < 0.10:
			r = terms.Pelvis
		case h < 0.45:
			r = terms.ThighLeft
		case h < 0.55:
			r = terms.KneeLeft
		case h < 0.88 && z > 0:
			r = terms.ShinLeft
		case h < 0.88:
			r = terms.CalfLeft
		case h < 0.94:
			r = terms.AnkleLeft
		}
		m.Label = append(m.Label, uint8(r))
	}
	for k := 0; k <= rings; k++ {
		for i := 0; i < around; i++ {
			s, c := math.Sincos(2 * math.Pi * float64(i) / around)
			put(a*c, -length*float64(k)/rings, b*s)
		}
	}
	put(0, 0, 0)
	put(0, -length, 0)
	for i := uint32(0); i < around; i++ {
		j := (i + 1) % around
		for k := uint32(0); k < rings; k++ {
			p, q := k*around, (k+1)*around
			m.Tri = append(m.Tri, [3]uint32{p + i, p + j, q + i}, [3]uint32{p + j, q + j, q + i})
		}
		last := uint32(rings * around)
		top, bottom := uint32(len(m.Pos)-2), uint32(len(m.Pos)-1)
		m.Tri = append(m.Tri, [3]uint32{i, top, j}, [3]uint32{last + i, last + j, bottom})
	}
	if m.Volume() < 0 {
		m.Flip()
	}
	return m
}

func find(t *testing.T, vs []Value, name string) Value {
	t.Helper()
	for _, v := range vs {
		if v.Name == name {
			return v
		}
	}
	t.Fatalf("no measure %q", name)
	return Value{}
}

// The closed forms: circumference of an ellipse by numeric integration, volume pi*a*b*h.
func TestEllipticLegMatchesClosedForm(t *testing.T) {
	a, b := 0.08, 0.06
	var want float64
	for i := 0; i < 100000; i++ {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + .5) / 100000)
		want += math.Hypot(a*s, b*c) * 2 * math.Pi / 100000
	}
	vs, err := Body(context.Background(), legTube(a, b))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"thigh-girth-left", "thigh-girth-left-contour", "calf-girth-left"} {
		v := find(t, vs, name)
		if !v.OK || math.Abs(v.Value/(1000*want)-1) > 1e-3 {
			t.Errorf("%s = %+v, want %.3f", name, v, 1000*want)
		}
	}
	// The label's edge lies half a ring beside its height.
	if v := find(t, vs, "volume-thigh-left"); math.Abs(v.Value/(math.Pi*a*b*0.45*1e6)-1) > 0.01 {
		t.Errorf("volume %.1f, want %.1f", v.Value, math.Pi*a*b*0.45*1e6)
	}
	if v := find(t, vs, "upper-arm-girth-left"); v.OK || v.Why == "" {
		t.Errorf("arm that the scan lacks: %+v", v)
	}
}

func TestGirthKeepsUnderRotation(t *testing.T) {
	m := legTube(0.08, 0.06)
	before, _ := Body(context.Background(), m)
	s, c := math.Sincos(45 * math.Pi / 180)
	m.Transform([16]float64{c, s, 0, 0, -s, c, 0, 0, 0, 0, 1, 0, 0.3, 0.2, 0.1, 1})
	after, _ := Body(context.Background(), m)
	for i := range before {
		if n := before[i].Name; before[i].OK && (strings.Contains(n, "girth") || strings.Contains(n, "volume")) {
			if math.Abs(after[i].Value/before[i].Value-1) > 1e-3 {
				t.Errorf("%s: %.3f upright, %.3f at 45 degrees", n, before[i].Value, after[i].Value)
			}
		}
	}
}

func TestWithoutLabelsNothingIsMeasured(t *testing.T) {
	m := legTube(0.05, 0.05)
	m.Label = nil
	vs, err := Body(context.Background(), m)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range vs {
		if v.OK || v.Why == "" {
			t.Errorf("%+v", v)
		}
	}
}
