package diff

import (
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/diff/result"
)

// A raised arm, a deep breath, another topology, place and noise: no change; the same with five
// millimetres more on the body: one finding of build.
func TestBodyInAnotherPosture(t *testing.T) {
	first := invent.Capture{Seed: 1, GridMm: 8, TexSize: 256, AtlasSeed: 1, NoiseMm: .2}
	again := invent.Capture{
		Seed: 2, GridMm: 8, TexSize: 256, AtlasSeed: 2, NoiseMm: .2, GridTurnDeg: 31, GridShift: mesh.Vec{.3, .6, .1},
		OffsetM: mesh.Vec{.4, 0, -.3}, TurnDeg: 40, BreathMm: 4,
		Joints: []invent.JointTurn{{Segment: terms.ArmUpperLeft, Degrees: 8}},
	}
	old := taken(t, invent.Look{}, first, asset.PartBody)
	old.BaseColor = nil // shape and measures only
	for _, c := range []struct {
		look invent.Look
		want result.Verdict
	}{{invent.Look{}, result.Same}, {invent.Look{HeavierMm: 5}, result.Changed}} {
		r, _ := compared(t, old, taken(t, c.look, again, asset.PartBody))
		if r.Verdict != c.want {
			t.Errorf("%+v: %s %+v, spots %+v, measures %+v", c.look, r.Verdict, r.Layers, r.Spots, r.Measurements)
		}
		if r.Posture == nil || !r.Posture.Removed {
			t.Error("posture was not taken out")
		}
		if c.want == result.Changed && (len(r.Findings) != 1 || r.Findings[0].Kind != string(terms.Physique)) {
			t.Errorf("findings %+v", r.Findings)
		}
	}
}
