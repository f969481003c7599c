package change

import (
	"testing"

	"mien/asset/scan"
	"mien/asset/terms"
	"mien/diff/colour"
	"mien/diff/result"
	"mien/diff/surface"
)

// sheet is a run of samples of 1 cm2 each.
type sheet struct {
	n      int
	region terms.Region
	class  terms.Class
	on     terms.Class
	distMm float32
}

func field(sheets ...sheet) *surface.Field {
	f := &surface.Field{}
	for _, s := range sheets {
		state := surface.Seen
		if s.class != s.on {
			state = surface.Unlike
		}
		for range s.n {
			f.Tri = append(f.Tri, 0)
			f.AreaM2 = append(f.AreaM2, 1e-4)
			f.Region = append(f.Region, uint8(s.region))
			f.Class = append(f.Class, uint8(s.class))
			f.OnCls = append(f.OnCls, uint8(s.on))
			f.DistMm = append(f.DistMm, s.distMm)
			f.State = append(f.State, state)
		}
	}
	return f
}

// flipped is the other direction of the same sheets.
func flipped(sheets ...sheet) *surface.Field {
	for k := range sheets {
		sheets[k].class, sheets[k].on = sheets[k].on, sheets[k].class
	}
	return field(sheets...)
}

func said(f []result.Finding) []string {
	var out []string
	for _, x := range f {
		out = append(out, x.Kind+" "+x.Action+" "+x.Region)
	}
	return out
}

func expect(t *testing.T, name string, in Input, want ...string) {
	t.Helper()
	got := said(Findings(in))
	if len(got) != len(want) {
		t.Errorf("%s: %q, want %q", name, got, want)
		return
	}
	for k := range want {
		if got[k] != want[k] {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

func TestWhatIsWornAndGrown(t *testing.T) {
	for _, c := range []struct {
		name   string
		sheets []sheet // class on the new scan, on on the old
		want   []string
	}{
		{"nothing", []sheet{{500, terms.Scalp, terms.HairClass, terms.HairClass, 0.4}, {300, terms.Chest, terms.Skin, terms.Skin, 0}}, nil},
		{"shaved", []sheet{{80, terms.JawLeft, terms.Skin, terms.HairClass, 5}, {60, terms.Chin, terms.Skin, terms.HairClass, 5}}, []string{"facial-hair removed chin"}},
		{"grown", []sheet{{80, terms.JawLeft, terms.HairClass, terms.Skin, 5}}, []string{"facial-hair added chin"}},
		{"an edge that moved", []sheet{{200, terms.JawLeft, terms.HairClass, terms.HairClass, 1}, {8, terms.CheekLeft, terms.HairClass, terms.Skin, 1}}, nil},
		{"another cut", []sheet{{600, terms.Scalp, terms.HairClass, terms.HairClass, -9}}, []string{"hair altered scalp"}},
		{"a cap over hair", []sheet{{600, terms.Scalp, terms.Cloth, terms.HairClass, 3}}, []string{"accessory added scalp"}},
		{"a headband taken off", []sheet{{90, terms.Forehead, terms.Skin, terms.Cloth, 3}, {90, terms.Scalp, terms.HairClass, terms.Cloth, 3}}, []string{"accessory removed forehead"}},
		{"a sleeve", []sheet{{250, terms.ForearmLeft, terms.Cloth, terms.Skin, 2}}, []string{"accessory added forearm-left"}},
		{"barefoot", []sheet{{400, terms.FootLeft, terms.Skin, terms.Shoe, -9}, {390, terms.FootRight, terms.Skin, terms.Shoe, -9}}, []string{"footwear removed foot-left"}},
		{"shod", []sheet{{400, terms.FootRight, terms.Shoe, terms.Skin, -9}}, []string{"footwear added foot-right"}},
	} {
		in := Input{Old: &scan.Scan{}, New: &scan.Scan{}, NewToOld: field(c.sheets...), OldToNew: flipped(c.sheets...)}
		expect(t, c.name, in, c.want...)
	}
}

// blot is a colour spot of 10 cm2 on skin at height y.
func blot(region terms.Region, y, delta, keptCM2 float64, onNew bool) (result.Spot, colour.SpotInfo) {
	return result.Spot{Layer: result.Colour, Unit: "de00", AreaCM2: 10, OutlineCM2: 14, Mean: 12, Peak: 16,
			Regions: []result.RegionShare{{Name: region.String(), Share: 1}},
			BoundsM: [2][3]float64{{0, y, 0}, {0.03, y + 0.03, 0.03}}},
		colour.SpotInfo{OnNew: onNew, Class: uint8(terms.Skin), Delta: [3]float64{delta, 0, 0}, Contrast: 12, WidthMm: 9, KeptCM2: keptCM2}
}

func TestInkComesGoesAndChanges(t *testing.T) {
	for _, c := range []struct {
		name string
		add  func(o *colour.Output)
		want []string
	}{
		{"new", func(o *colour.Output) { add(o, terms.ForearmLeft, 1, -12, 0, true) }, []string{"tattoo added forearm-left"}},
		{"gone", func(o *colour.Output) { add(o, terms.ForearmLeft, 1, -12, 0, false) }, []string{"tattoo removed forearm-left"}},
		{"more of it", func(o *colour.Output) { add(o, terms.ForearmLeft, 1, -12, 6, true) }, []string{"tattoo altered forearm-left"}},
		{"another over it", func(o *colour.Output) {
			add(o, terms.Chest, 1, -12, 0, true)
			add(o, terms.Chest, 1.01, -12, 0, false)
		}, []string{"tattoo altered chest"}},
		{"two pieces of one", func(o *colour.Output) {
			add(o, terms.Chest, 1, -12, 0, true)
			add(o, terms.Chest, 1.05, -12, 0, true)
		}, []string{"tattoo added chest"}},
		{"two far apart", func(o *colour.Output) {
			add(o, terms.Chest, 1, -12, 0, true)
			add(o, terms.CalfLeft, 0.3, -12, 0, true)
		}, []string{"tattoo added calf-left", "tattoo added chest"}},
		{"lips", func(o *colour.Output) { add(o, terms.Lips, 1.6, -12, 0, true) }, nil},
		{"stubble", func(o *colour.Output) {
			add(o, terms.JawLeft, 1.6, -9, 0, true)
			add(o, terms.JawRight, 1.6, -9, 0, true)
			for k := range o.Spots {
				o.Spots[k].Regions = append(o.Spots[k].Regions, result.RegionShare{Name: "chin"})
			}
		}, []string{"facial-hair added chin"}},
		{"paler wide skin", func(o *colour.Output) { add(o, terms.Chest, 1, 7, 0, true) }, nil},
	} {
		o := &colour.Output{}
		c.add(o)
		expect(t, c.name, Input{Old: &scan.Scan{}, New: &scan.Scan{}, Colour: o}, c.want...)
	}
}

func add(o *colour.Output, region terms.Region, y, delta, kept float64, onNew bool) {
	s, info := blot(region, y, delta, kept, onNew)
	o.Spots, o.Info = append(o.Spots, s), append(o.Info, info)
}

func TestBuildIsOneFinding(t *testing.T) {
	f := field(sheet{10, terms.Abdomen, terms.Skin, terms.Skin, 4})
	in := Input{Old: &scan.Scan{}, New: &scan.Scan{}, NewToOld: f, OldToNew: f}
	for _, r := range []terms.Region{terms.Abdomen, terms.Chest, terms.ThighLeft, terms.ThighRight, terms.UpperArmLeft} {
		in.Shape = append(in.Shape, surface.Spot{OnNew: true, Samples: []uint32{0, 1}, Spot: result.Spot{
			ID: r.String(), AreaCM2: 200, Mean: 3, Peak: 4, Regions: []result.RegionShare{{Name: r.String(), Share: 1}}}})
	}
	got := Findings(in)
	if len(got) != 1 || got[0].Kind != "physique" || len(got[0].Spots) != 5 {
		t.Fatalf("%+v", got)
	}
	in.Shape = in.Shape[:1]
	expect(t, "one place", in)
}

func TestConfidenceRisesWithEvidence(t *testing.T) {
	last := -1.0
	for _, a := range []float64{0, 1, 2, 5, 20, 100} {
		c := confidence(strength(a, 4), strength(10, 3))
		if c <= last && a > 0 || c > most {
			t.Errorf("confidence %v after %v at %v cm2", c, last, a)
		}
		last = c
	}
}
