package invent

import (
	"math"
	"testing"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// moved is how far each position of b lies from that of a along the anchor's normal, and how far across.
func moved(a, b *Surface, i int) (along, across float64) {
	d := millimetres(b.Clean[i]).Sub(millimetres(a.Clean[i]))
	n := mesh.Vec{float64(a.AnchorNormal[i][0]), float64(a.AnchorNormal[i][1]), float64(a.AnchorNormal[i][2])}
	along = d.Dot(n)
	return along, d.Sub(n.Scale(along)).Len()
}

func TestHeavierGrowsTheAbdomenByTheStatedAmount(t *testing.T) {
	p := NewPerson(Tuning, 6)
	c := Capture{GridMm: 9}
	thin, fat := Look{}, Look{HeavierMm: 5}
	a, b := surfaceOf(t, p, thin, c, asset.PartBody), surfaceOf(t, p, fat, c, asset.PartBody)
	var peak, least [terms.RegionCount]float64
	for i, l := range a.Mesh.Label {
		along, across := moved(a, b, i)
		if across > .01 {
			t.Fatalf("vertex %d moved %.3f mm across its normal", i, across)
		}
		if d := p.ShapeChange(thin, fat, a.Anchor[i]); math.Abs(d-along) > .01 {
			t.Fatalf("vertex %d moved by %.3f mm, ShapeChange says %.3f", i, along, d)
		}
		peak[l], least[l] = max(peak[l], along), min(least[l], along)
	}
	if peak[terms.Abdomen] < 4.7 || peak[terms.Abdomen] > 5.05 {
		t.Errorf("abdomen grew by %.2f mm, want about 5", peak[terms.Abdomen])
	}
	for _, r := range []terms.Region{terms.HandLeft, terms.FootRight, terms.Nose, terms.Scalp, terms.Forehead, terms.EarLeft, terms.Lips} {
		if peak[r] > .05 {
			t.Errorf("%s grew by %.2f mm, want 0", r, peak[r])
		}
	}
	for r, v := range least {
		if v < -1e-3 {
			t.Errorf("%s shrank by %.3f mm", terms.Region(r), v)
		}
	}
	if v := b.Mesh.Volume() - a.Mesh.Volume(); v < .002 || v > .008 {
		t.Errorf("volume grew by %.4f m3", v)
	}
}

func TestPostureMovesOnlyTheArm(t *testing.T) {
	p := NewPerson(Tuning, 6)
	rest := surfaceOf(t, p, Look{}, Capture{GridMm: 9}, asset.PartBody)
	for _, turn := range []JointTurn{{terms.ArmUpperLeft, Raise, 8}, {terms.ArmUpperRight, Bend, 10}} {
		s := surfaceOf(t, p, Look{}, Capture{GridMm: 9, Joints: []JointTurn{turn}}, asset.PartBody)
		var joint, hand mesh.Vec
		for _, j := range p.Joints() {
			if j.Segment == turn.Segment {
				joint = j.At
			}
			if j.Segment == turn.Segment+4 {
				hand = j.At
			}
		}
		for i, l := range rest.Mesh.Label {
			d := millimetres(s.Clean[i]).Sub(millimetres(rest.Clean[i])).Len()
			seg := terms.Region(l).Segment()
			if seg != turn.Segment && seg != turn.Segment+2 && seg != turn.Segment+4 {
				if q := millimetres(rest.Clean[i]).Sub(joint.Scale(1000)).Len(); d > 1e-6 && q > 250 {
					t.Fatalf("%v: %s moved %.2f mm, %.0f mm from the joint", turn, terms.Region(l), d, q)
				}
			}
			// A point of the hand moves on a circle around the joint: by the chord.
			if r := terms.Region(l); r == terms.HandLeft+terms.Region(turn.Segment-terms.ArmUpperLeft) {
				near := millimetres(rest.Clean[i]).Sub(joint.Scale(1000)).Len() - millimetres(s.Clean[i]).Sub(joint.Scale(1000)).Len()
				if math.Abs(near) > .01 {
					t.Fatalf("%v: %s came %.3f mm nearer to the joint", turn, r, near)
				}
				if reach := hand.Sub(joint).Len() * 1000; d < reach*turn.Degrees*math.Pi/180*.7 {
					t.Fatalf("%v: %s moved %.1f mm only", turn, r, d)
				}
			}
		}
	}
	up := surfaceOf(t, p, Look{}, Capture{GridMm: 9, Joints: []JointTurn{{terms.ArmUpperLeft, Raise, 20}, {terms.ArmUpperRight, Raise, 20}, {terms.ArmLowerLeft, Bend, 20}}}, asset.PartBody)
	for i, l := range rest.Mesh.Label {
		d := millimetres(up.Clean[i]).Sub(millimetres(rest.Clean[i]))
		switch terms.Region(l) {
		case terms.HandLeft:
			if d[0] < 50 || d[1] < 50 || d[2] < 30 {
				t.Fatalf("left hand moved by %v mm, want outward, up and forward", d)
			}
		case terms.HandRight:
			if d[0] > -50 || d[1] < 50 {
				t.Fatalf("right hand moved by %v mm, want outward and up", d)
			}
		}
	}
}

func TestBreathMovesTheRibCage(t *testing.T) {
	p := NewPerson(Report, 2)
	a := surfaceOf(t, p, Look{}, Capture{GridMm: 9}, asset.PartBody)
	b := surfaceOf(t, p, Look{}, Capture{GridMm: 9, BreathMm: 4}, asset.PartBody)
	peak := 0.0
	for i, l := range a.Mesh.Label {
		along, _ := moved(a, b, i)
		switch terms.Region(l).Segment() {
		case terms.Trunk:
			peak = max(peak, along)
		case terms.ArmLowerLeft, terms.LegLowerRight, terms.PalmRight:
			if along != 0 {
				t.Fatalf("%s breathes", terms.Region(l))
			}
		}
	}
	if peak < 3.6 || peak > 4.1 {
		t.Errorf("rib cage moved by %.2f mm, want about 4", peak)
	}
}

// The stated noise is what a capture has: its standard deviation, and how it falls with distance.
func TestNoiseIsAsStated(t *testing.T) {
	for _, c := range []struct{ white, corr float64 }{{.2, 0}, {0, .44}} {
		p := NewPerson(Tuning, 6)
		s := surfaceOf(t, p, Look{}, Capture{Seed: 5, GridMm: 7, NoiseMm: c.white, NoiseCorrMm: c.corr}, asset.PartBody)
		e := make([]float64, len(s.Clean))
		sum, near, far, nn, nf := 0.0, 0.0, 0.0, 0, 0
		for i := range e {
			d := millimetres(s.Mesh.Pos[i]).Sub(millimetres(s.Clean[i]))
			n := s.AnchorNormal[i]
			e[i] = d.Dot(mesh.Vec{float64(n[0]), float64(n[1]), float64(n[2])})
			sum += e[i] * e[i]
		}
		for i := 0; i < len(e); i += 29 {
			for j := i + 1; j < min(i+400, len(e)); j++ {
				switch d := millimetres(s.Clean[i]).Sub(millimetres(s.Clean[j])).Len(); {
				case d < 4:
					near += e[i] * e[j]
					nn++
				case d > 22 && d < 40:
					far += e[i] * e[j]
					nf++
				}
			}
		}
		v := sum / float64(len(e))
		sd, rn, rf := math.Sqrt(v), near/float64(nn)/v, far/float64(nf)/v
		want := max(c.white, c.corr)
		if math.Abs(sd/want-1) > .08 {
			t.Errorf("white %g correlated %g: standard deviation %.3f mm", c.white, c.corr, sd)
		}
		if c.white > 0 && math.Abs(rn) > .06 || c.corr > 0 && rn < .7 || math.Abs(rf) > .08 {
			t.Errorf("white %g correlated %g: correlation %.2f within 4 mm, %.2f beyond 22 mm", c.white, c.corr, rn, rf)
		}
		t.Logf("standard deviation %.3f mm, correlation %.2f within 4 mm, %.2f beyond 22 mm", sd, rn, rf)
	}
}

func TestLooksAreOfTheirClass(t *testing.T) {
	p := NewPerson(Tuning, 9)
	look := Look{Hair: Short, Beard: FullBeard, Headband: true, Shoes: Shoe{Model: 3}, Sleeves: []terms.Region{terms.ForearmLeft}}
	s := surfaceOf(t, p, look, Capture{GridMm: 7}, asset.PartBody)
	var at [terms.RegionCount][terms.ClassCount]int
	for k := range s.Mesh.Tri {
		at[s.Mesh.LabelOf(k)][s.Mesh.ClassOf(k)]++
	}
	for _, c := range []struct {
		r terms.Region
		c terms.Class
	}{
		{terms.Scalp, terms.HairClass}, {terms.Chin, terms.HairClass}, {terms.Forehead, terms.Cloth}, {terms.FootLeft, terms.Shoe}, {terms.FootRight, terms.Shoe},
		{terms.ForearmLeft, terms.Cloth}, {terms.ForearmRight, terms.Skin}, {terms.Nose, terms.Skin}, {terms.Lips, terms.Skin}, {terms.Pelvis, terms.Cloth}, {terms.EyeLeft, terms.EyeClass},
	} {
		if at[c.r][c.c] == 0 {
			t.Errorf("%s shows no %s: %v", c.r, c.c, at[c.r])
		}
	}
	if at[terms.ForearmRight][terms.Cloth] > 0 || at[terms.Nose][terms.HairClass] > 3 {
		t.Errorf("right forearm %v, nose %v", at[terms.ForearmRight], at[terms.Nose])
	}
	if _, err := p.Surface(t.Context(), look, Capture{}, asset.PartTeeth); err == nil {
		t.Error("teeth: no error")
	}
	if _, err := p.Surface(t.Context(), Look{Shoes: Shoe{Model: ShoeModels + 1}}, Capture{}, asset.PartBody); err == nil {
		t.Error("shoe model out of range: no error")
	}
}
