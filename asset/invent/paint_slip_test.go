package invent

import (
	"context"
	"testing"

	"mien/asset"
	"mien/asset/terms"
)

func TestSlipMovesSkinWithinTheSurface(t *testing.T) {
	p := person(Tuning, 7, 2)
	cap := Capture{Seed: 3, GridMm: 11, SlipMm: 4}
	s, err := p.Surface(context.Background(), Look{}, cap, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	moved := slipped(p, &cap, s)
	var most, forearm, folds float64
	for i, a := range s.Anchor {
		d := vec3(moved[i]).Sub(vec3(a))
		if d.Len() > 0.004+1e-6 {
			t.Fatalf("position %d: skin slipped by %.2f mm, allowed 4", i, d.Len()*1000)
		}
		if terms.Region(s.Mesh.Label[i]).Segment() == terms.Head && d.Len() > 0.002 {
			t.Fatalf("position %d: skin of the head slipped by %.2f mm", i, d.Len()*1000)
		}
		if out := d.Dot(vec3(s.AnchorNormal[i])); out > 1e-4 || out < -1e-4 {
			t.Fatalf("position %d: skin left the surface by %.3f mm", i, out*1000)
		}
		most = max(most, d.Len())
		if s.Mesh.Label[i] == uint8(terms.ForearmLeft) {
			forearm = max(forearm, d.Len())
		}
	}
	for _, tri := range s.Mesh.Tri {
		a, b, c := vec3(s.Anchor[tri[0]]), vec3(s.Anchor[tri[1]]), vec3(s.Anchor[tri[2]])
		before := b.Sub(a).Cross(c.Sub(a))
		a, b, c = vec3(moved[tri[0]]), vec3(moved[tri[1]]), vec3(moved[tri[2]])
		if before.Dot(b.Sub(a).Cross(c.Sub(a))) <= 0 && before.Len() > 1e-6 {
			folds++
		}
	}
	if most < 0.001 || forearm < 0.0003 {
		t.Errorf("skin slipped by at most %.2f mm, on the left forearm by %.2f; asked for up to 4", most*1000, forearm*1000)
	}
	if folds > 0.001*float64(len(s.Mesh.Tri)) {
		t.Errorf("%.0f triangles folded over", folds)
	}
}

func TestScanWithoutLabels(t *testing.T) {
	p := person(Report, 7, 2)
	s, surface, err := p.Take(context.Background(), Look{}, Capture{GridMm: 14, TexSize: 128, NoLabels: true}, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	if s.Mesh.Label != nil || s.Labels != "none" || surface.Mesh.Label == nil {
		t.Errorf("labels left out: %v, source %q; the truth keeps them: %v", s.Mesh.Label == nil, s.Labels, surface.Mesh.Label != nil)
	}
}
