package change

import (
	"testing"

	"mien/diff/result"
)

func TestConclusionIsOnePlainSentence(t *testing.T) {
	base := func() *result.Result {
		return &result.Result{
			Verdict: result.Changed,
			Layers:  result.Layers{Shape: result.Same, Colour: result.Changed},
			Shape:   &result.ShapeLayer{ToleranceMm: 1, DetectionLimitMm: 0.6, UncoveredCM2: 210.2},
			Colour:  &result.ColourLayer{},
		}
	}
	ink := base()
	ink.Spots = []result.Spot{{ID: "S1", AreaCM2: 41.2}}
	ink.Findings = []result.Finding{{Kind: "tattoo", Action: "added", Region: "forearm-left", AreaCM2: 41.2, Spots: []string{"S1"}}}
	loose := base()
	loose.Spots = []result.Spot{{ID: "S1", AreaCM2: 3, Regions: []result.RegionShare{{Name: "neck-back", Share: 1}}}}
	loose.Shape.UncoveredCM2 = 0
	same := base()
	same.Verdict, same.Layers.Colour, same.Colour = result.Same, result.NotCompared, nil
	lost := base()
	lost.Verdict, lost.Layers.Shape, lost.Layers.Colour = result.CannotTell, result.CannotTell, result.CannotTell
	lost.Reasons = []string{"the scans overlap by 12 %, allowed 50 %"}
	for _, c := range []struct {
		r    *result.Result
		want string
	}{
		{ink, "Left forearm: new ink, 41 cm2; nothing else above 1.0 mm or 6 dE00; 210 cm2 could not be seen."},
		{loose, "1 changed place without a known cause, 3 cm2, largest on the back of the neck."},
		{same, "Nothing above 1.0 mm; colour not compared; 210 cm2 could not be seen."},
		{lost, "Cannot tell: the scans overlap by 12 %, allowed 50 %; 210 cm2 could not be seen."},
	} {
		if got := Conclusion(c.r, 6); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}
