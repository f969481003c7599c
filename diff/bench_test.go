package diff

import (
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
)

func BenchmarkHead(b *testing.B) { benchCompare(b, asset.PartHead, 2.5) }
func BenchmarkBody(b *testing.B) { benchCompare(b, asset.PartBody, 7) }

func benchCompare(b *testing.B, part asset.Part, gridMm float64) {
	p := invent.NewPerson(invent.Tuning, 11)
	old, _, err := p.Take(ctx, invent.Look{}, invent.Capture{Seed: 1, GridMm: gridMm, NoiseMm: .2}, part)
	if err != nil {
		b.Fatal(err)
	}
	new, _, err := p.Take(ctx, invent.Look{}, invent.Capture{Seed: 2, GridMm: gridMm, NoiseMm: .2, GridTurnDeg: 31, GridShift: mesh.Vec{.3, .6, .1}, TurnDeg: 40}, part)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for range b.N {
		if _, _, err := Compare(ctx, old, new, Settings{}, nil); err != nil {
			b.Fatal(err)
		}
	}
}
