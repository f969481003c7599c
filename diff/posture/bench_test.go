package posture

import (
	"context"
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/terms"
)

func BenchmarkFitBody(b *testing.B) {
	ctx := context.Background()
	p := invent.NewPerson(invent.Tuning, 1)
	old, err := p.Surface(ctx, invent.Look{}, invent.Capture{Seed: 1}, asset.PartBody)
	if err != nil {
		b.Fatal(err)
	}
	newer, err := p.Surface(ctx, invent.Look{}, invent.Capture{Seed: 2, GridTurnDeg: 17, NoiseMm: 0.2, BreathMm: 4,
		Joints: []invent.JointTurn{{Segment: terms.ArmUpperLeft, Axis: invent.Raise, Degrees: 8}}}, asset.PartBody)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(len(newer.Mesh.Tri)), "triangles")
	for b.Loop() {
		if _, err := Fit(ctx, old.Mesh, newer.Mesh, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
