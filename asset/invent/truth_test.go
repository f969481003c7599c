package invent

import (
	"context"
	"math"
	"testing"

	"mien/asset"
	"mien/asset/terms"
)

func TestChangesNamesEveryDifferenceOnce(t *testing.T) {
	p := person(Tuning, 5, 1)
	old := Look{
		Ink:   []Ink{{Region: terms.ForearmLeft, Motif: 10, SizeCM: 9, Contrast: 18}, {Region: terms.CalfLeft, Motif: 12, SizeCM: 8, Contrast: 18}},
		Hair:  Short,
		Shoes: Shoe{Model: 1, Colours: [3]uint8{0, 1, 2}},
	}
	grown := old
	grown.Ink = []Ink{{Region: terms.ForearmLeft, Motif: 10, SizeCM: 9, Contrast: 18, Extended: 1}, {Region: terms.ThighRight, Motif: 11, SizeCM: 8, Contrast: 20, AlongCM: 8}}
	grown.Hair, grown.Beard, grown.Headband = Cropped, ShortBeard, true
	grown.Shoes.Model = 2
	grown.HeavierMm = 5
	got, err := p.Changes(context.Background(), old, grown, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		kind         terms.ItemKind
		action       terms.Action
		region       terms.Region
		areaLo, hi   float64
		peakLo, peak float64
	}{
		{terms.Tattoo, terms.Altered, terms.ForearmLeft, 0.5, 12, 0, 0},
		{terms.Tattoo, terms.Added, terms.ThighRight, 5, 40, 0, 0},
		{terms.Tattoo, terms.Removed, terms.CalfLeft, 5, 40, 0, 0},
		{terms.Footwear, terms.Altered, terms.FootLeft, 300, 1200, 3, 40},
		{terms.Footwear, terms.Altered, terms.FootRight, 300, 1200, 3, 40},
		{terms.Hair, terms.Altered, terms.Scalp, 300, 1000, -18, -6},
		{terms.FacialHair, terms.Added, terms.Chin, 80, 500, 3, 7},
		{terms.Accessory, terms.Added, terms.Forehead, 80, 500, -12, 6},
		{terms.Physique, terms.Altered, terms.Abdomen, 4000, 16000, 4, 6},
	}
	if len(got) != len(want) {
		t.Fatalf("%d changes, want %d: %+v", len(got), len(want), got)
	}
	for i, w := range want {
		g := got[i]
		if g.Kind != w.kind || g.Action != w.action || g.Region != w.region && g.Kind != terms.Physique {
			t.Errorf("change %d: %s %s on %s, want %s %s on %s", i, g.Kind, g.Action, g.Region, w.kind, w.action, w.region)
		}
		if g.AreaCM2 < w.areaLo || g.AreaCM2 > w.hi || g.PeakMm < w.peakLo || g.PeakMm > w.peak {
			t.Errorf("%s %s: %.1f cm2, peak %.2f mm; want %g to %g cm2, %g to %g mm", g.Kind, g.Action, g.AreaCM2, g.PeakMm, w.areaLo, w.hi, w.peakLo, w.peak)
		}
	}
	back, err := p.Changes(context.Background(), grown, old, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	if len(back) != len(got) {
		t.Errorf("%d changes forward, %d back", len(got), len(back))
	}
}

func TestNothingChangedIsNoChange(t *testing.T) {
	p := person(Report, 5, 4)
	for _, part := range []asset.Part{asset.PartHead, asset.PartFootLeft} {
		if got, err := p.Changes(context.Background(), inked(), inked(), part); err != nil || len(got) != 0 {
			t.Errorf("%s: %v, %v", part, got, err)
		}
	}
}

func TestCoveredInkShowsNoChange(t *testing.T) {
	p := person(Tuning, 5, 1)
	bare := Look{Ink: []Ink{{Region: terms.ForearmLeft, Motif: 10, SizeCM: 6, Contrast: 18}}}
	sleeved := Look{Sleeves: []terms.Region{terms.ForearmLeft}}
	got, err := p.Changes(context.Background(), bare, sleeved, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range got {
		if c.Kind == terms.Tattoo && c.AreaCM2 > 1 {
			t.Errorf("ink under a sleeve counts as %s, %.1f cm2", c.Action, c.AreaCM2)
		}
	}
	if len(got) == 0 || got[len(got)-1].Kind != terms.Accessory || math.Abs(got[len(got)-1].PeakMm-2.5) > .3 {
		t.Errorf("a sleeve of 2.5 mm gives %+v", got)
	}
}
