package body_test

import (
	"context"
	"errors"
	"math"
	"testing"

	"mien/asset"
	"mien/asset/body"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
)

func surface(t *testing.T, f invent.Family, seed uint64, look invent.Look, c invent.Capture, part asset.Part) (invent.Person, *invent.Surface) {
	t.Helper()
	p := invent.NewPerson(f, seed)
	s, err := p.Surface(context.Background(), look, c, part)
	if err != nil {
		t.Fatal(err)
	}
	return p, s
}

func TestJointsLieWhereTheBodyTurns(t *testing.T) {
	for _, f := range []invent.Family{invent.Tuning, invent.Report} {
		p, s := surface(t, f, 5, invent.Look{}, invent.Capture{GridMm: 10}, asset.PartBody)
		js, err := body.Joints(s.Mesh)
		if err != nil {
			t.Fatal(err)
		}
		if len(js) != 13 {
			t.Errorf("family %d: %d joints, want 13", f, len(js))
		}
		truth := map[terms.Segment]mesh.Vec{}
		for _, j := range p.Joints() {
			truth[j.Segment] = j.At
		}
		for _, j := range js {
			if d := j.At.Sub(truth[j.Child]).Len(); d > 0.025 {
				t.Errorf("family %d: %s off by %.0f mm, allowed 25", f, j.Name, d*1000)
			}
			if math.Abs(j.Axis.Len()-1) > 1e-9 || j.LengthM < 0.1 || j.RadiusM < 0.01 {
				t.Errorf("%+v", j)
			}
		}
	}
}

// agreement returns the shares of area whose estimated region and segment are the drawn ones.
func agreement(m *mesh.Mesh, labels []uint8) (region, segment float64) {
	var all float64
	for k, tri := range m.Tri {
		a := m.TriangleArea(k)
		all += a
		x, y := terms.Region(m.Label[tri[0]]), terms.Region(labels[tri[0]])
		if x == y {
			region += a
		}
		if x.Segment() == y.Segment() {
			segment += a
		}
	}
	return region / all, segment / all
}

func TestEstimateAgreesWithDrawnRegions(t *testing.T) {
	for _, c := range []struct {
		family          invent.Family
		part            asset.Part
		look            invent.Look
		grid            float64
		region, segment float64
	}{
		{invent.Tuning, asset.PartBody, invent.Look{}, 10, 0.82, 0.90},
		{invent.Report, asset.PartBody, invent.Look{}, 10, 0.75, 0.88},
		{invent.Report, asset.PartBody, invent.Look{Hair: invent.Short, Shoes: invent.Shoe{Model: 2}}, 10, 0.75, 0.88},
		{invent.Tuning, asset.PartHead, invent.Look{}, 5, 0.80, 0.94},
		{invent.Report, asset.PartHead, invent.Look{Hair: invent.Cropped}, 5, 0.70, 0.90},
	} {
		_, s := surface(t, c.family, 6, c.look, invent.Capture{GridMm: c.grid}, c.part)
		l, note, err := body.Estimate(s.Mesh)
		if err != nil || note == "" {
			t.Fatalf("%v, note %q", err, note)
		}
		r, g := agreement(s.Mesh, l)
		t.Logf("family %d %s: regions %.1f %%, segments %.1f %% of area", c.family, c.part, r*100, g*100)
		if r < c.region || g < c.segment {
			t.Errorf("family %d %s: regions %.3f, segments %.3f, want at least %.2f, %.2f", c.family, c.part, r, g, c.region, c.segment)
		}
	}
}

func TestEstimateOfABodyThatFacesAnotherWay(t *testing.T) {
	_, s := surface(t, invent.Tuning, 7, invent.Look{}, invent.Capture{GridMm: 10}, asset.PartBody)
	straight, _, err := body.Estimate(s.Mesh)
	if err != nil {
		t.Fatal(err)
	}
	for _, deg := range []float64{160, -35} {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		m := s.Mesh.Clone()
		m.Transform([16]float64{cos, 0, -sin, 0, 0, 1, 0, 0, sin, 0, cos, 0, 0.4, 0.1, -0.3, 1})
		turned, _, err := body.Estimate(m)
		if err != nil {
			t.Fatal(err)
		}
		same := 0
		for i := range turned {
			if turned[i] == straight[i] {
				same++
			}
		}
		if share := float64(same) / float64(len(turned)); share < 0.97 {
			t.Errorf("turned by %v: %.3f of the labels kept, want .97", deg, share)
		}
	}
}

func TestEstimateRefusesWhatIsNoPerson(t *testing.T) {
	m := &mesh.Mesh{Pos: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 178, 0}}, Tri: [][3]uint32{{0, 1, 2}}}
	if _, _, err := body.Estimate(m); err == nil {
		t.Error("a triangle of 178 m was taken for a person")
	}
	if _, _, err := body.Estimate(&mesh.Mesh{}); err == nil {
		t.Error("an empty mesh was taken for a person")
	}
	if _, err := body.Joints(m); !errors.Is(err, body.ErrNoLabels) {
		t.Errorf("got %v, want ErrNoLabels", err)
	}
}

func TestSkeletonIsATree(t *testing.T) {
	for s := terms.Segment(1); s < terms.SegmentCount; s++ {
		if p := body.Parent(s); p >= s {
			t.Errorf("%s comes before its parent %s", body.SegmentName(s), body.SegmentName(p))
		}
		if body.JointName(s) == "" || body.SegmentName(s) == "" {
			t.Errorf("segment %d lacks a name", s)
		}
	}
	if body.JointName(terms.Trunk) != "" {
		t.Error("the trunk hangs on nothing")
	}
}
