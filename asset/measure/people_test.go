package measure

import (
	"context"
	"math"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/terms"
)

func person(t *testing.T, look invent.Look, c invent.Capture, part asset.Part) []Value {
	t.Helper()
	s, err := invent.NewPerson(invent.Tuning, 3).Surface(context.Background(), look, c, part)
	if err != nil {
		t.Fatal(err)
	}
	vs, err := Body(context.Background(), s.Mesh)
	if err != nil {
		t.Fatal(err)
	}
	return vs
}

func TestPersonHasPlausibleMeasures(t *testing.T) {
	vs := person(t, invent.Look{}, invent.Capture{GridMm: 8}, asset.PartBody)
	h := invent.NewPerson(invent.Tuning, 3).HeightM * 1000
	for _, v := range vs {
		t.Logf("%-28s %8.1f %s %v %s", v.Name, v.Value, v.Unit, v.OK, v.Why)
	}
	if v := find(t, vs, "stature"); math.Abs(v.Value-h) > 6 {
		t.Errorf("stature %.0f, want %.0f", v.Value, h)
	}
	for _, c := range []struct {
		name   string
		lo, hi float64 // common practice: plausible for an athlete
	}{
		{"head-length", 170, 230}, {"head-breadth", 135, 180}, {"neck-girth", 320, 500}, {"shoulder-breadth", 380, 560},
		{"chest-girth", 850, 1250}, {"waist-girth", 700, 1100}, {"hip-girth", 850, 1200},
		{"upper-arm-girth-left", 250, 420}, {"forearm-girth-right", 220, 360}, {"thigh-girth-left", 450, 720}, {"calf-girth-right", 320, 470},
		{"foot-length-left", 240, 340}, {"foot-width-left", 80, 130},
	} {
		if v := find(t, vs, c.name); !v.OK || v.Value < c.lo || v.Value > c.hi {
			t.Errorf("%s = %+v, want %v to %v", c.name, v, c.lo, c.hi)
		}
	}
}

func TestGirthsKeepUnderPosture(t *testing.T) {
	rest := person(t, invent.Look{}, invent.Capture{GridMm: 8}, asset.PartBody)
	posed := person(t, invent.Look{}, invent.Capture{GridMm: 8, GridTurnDeg: 21, Joints: []invent.JointTurn{
		{Segment: terms.ArmUpperLeft, Axis: invent.Raise, Degrees: 8}, {Segment: terms.ArmLowerRight, Axis: invent.Bend, Degrees: 8},
		{Segment: terms.LegUpperLeft, Axis: invent.Raise, Degrees: 4}}}, asset.PartBody)
	for i, a := range rest {
		b := posed[i]
		if a.Name != b.Name || a.OK != b.OK {
			t.Fatalf("%+v against %+v", a, b)
		}
		limb := strings.Contains(a.Name, "arm-girth") || strings.Contains(a.Name, "thigh-girth") || strings.Contains(a.Name, "calf-girth")
		if change := math.Abs(b.Value/a.Value - 1); a.OK && limb && change > 0.01 {
			t.Errorf("%s changes by %.2f %% under posture, allowed 1", a.Name, change*100)
		} else if a.OK && strings.Contains(a.Name, "girth") && change > 0.015 {
			t.Errorf("%s changes by %.2f %%, allowed 1.5", a.Name, change*100)
		}
	}
}

func TestGrowthShowsInGirths(t *testing.T) {
	rest := person(t, invent.Look{}, invent.Capture{GridMm: 8}, asset.PartBody)
	grown := person(t, invent.Look{HeavierMm: 8}, invent.Capture{GridMm: 8, GridTurnDeg: 21}, asset.PartBody)
	for _, name := range []string{"waist-girth", "thigh-girth-left", "upper-arm-girth-right"} {
		a, b := find(t, rest, name), find(t, grown, name)
		if b.Value-a.Value < 12 {
			t.Errorf("%s grew by %.1f mm under 8 mm of fat, want more than 12", name, b.Value-a.Value)
		}
	}
}

func TestCoveredPlacesAreNotMeasured(t *testing.T) {
	vs := person(t, invent.Look{Hair: invent.Curly, Shoes: invent.Shoe{Model: 1}}, invent.Capture{GridMm: 8}, asset.PartBody)
	if v := find(t, vs, "head-length"); v.OK || v.Why != "over hair" {
		t.Errorf("%+v", v)
	}
	if v := find(t, vs, "foot-length-left"); v.OK || v.Why != "in shoe" {
		t.Errorf("%+v", v)
	}
	if v := find(t, vs, "stature"); !v.OK || v.Why != "over hair and shoes" {
		t.Errorf("%+v", v)
	}
	if v := find(t, person(t, invent.Look{}, invent.Capture{GridMm: 5}, asset.PartHead), "neck-girth"); !v.OK || v.Value < 320 || v.Value > 500 {
		t.Errorf("%+v", v)
	}
}
