package sanity

import (
	"context"
	"slices"
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/asset/terms"
	"mien/diff/align"
	"mien/diff/surface"
)

var ctx = context.Background()

func shape(t *testing.T, seed uint64, look invent.Look, c invent.Capture, part asset.Part) *scan.Scan {
	t.Helper()
	s, err := invent.NewPerson(invent.Tuning, seed).Surface(ctx, look, c, part)
	if err != nil {
		t.Fatal(err)
	}
	return &scan.Scan{Name: string(part), Part: part, Mesh: s.Mesh}
}

var (
	still = invent.Capture{Seed: 2, GridMm: 5, NoiseMm: .2, GridTurnDeg: 31, GridShift: mesh.Vec{.3, .6, .1}}
	first = invent.Capture{Seed: 1, GridMm: 5, NoiseMm: .2}
	again = invent.Capture{Seed: 2, GridMm: 5, NoiseMm: .2, GridTurnDeg: 31, GridShift: mesh.Vec{.3, .6, .1}, OffsetM: mesh.Vec{.4, 0, -.3}, TurnDeg: 40}
)

// broaden pushes the left half of a head outward by up to 4 mm.
func broaden(m *mesh.Mesh) {
	for i := range m.Pos {
		m.Pos[i][0] += .08 * max(0, min(m.Pos[i][0], .05))
	}
}

func codes(t *testing.T, last, taken *scan.Scan) []string {
	t.Helper()
	issues, err := Against(ctx, last, taken)
	if err != nil {
		t.Fatal(err)
	}
	out := []string{}
	for _, i := range issues {
		out = append(out, i.Code)
		if i.Message == "" || i.Severity == "" {
			t.Errorf("%+v", i)
		}
	}
	return out
}

// The same person in another look is sound; another person is not.
func TestPersonsAreToldApart(t *testing.T) {
	var worstSame, leastOther float64 = 0, 1e9
	for seed := uint64(1); seed <= 2; seed++ {
		last := shape(t, seed, invent.Look{Hair: invent.Curly}, first, asset.PartHead)
		same := shape(t, seed, invent.Look{Hair: invent.Cropped, Beard: invent.FullBeard, HeavierMm: 4}, again, asset.PartHead)
		other := shape(t, seed+1, invent.Look{Hair: invent.Cropped}, again, asset.PartHead)
		worstSame = max(worstSame, distance(t, last, same))
		leastOther = min(leastOther, distance(t, last, other))
	}
	t.Logf("same person at most %.2f mm, another at least %.2f mm", worstSame, leastOther)
	if worstSame > doubtMm || leastOther < strangerMm {
		t.Errorf("same person at most %.2f mm, another at least %.2f mm; limits %.2f and %.2f", worstSame, leastOther, doubtMm, strangerMm)
	}
}

func distance(t *testing.T, last, taken *scan.Scan) float64 {
	t.Helper()
	old, err := surface.NewSide(ctx, headOf(last.Mesh))
	if err != nil {
		t.Fatal(err)
	}
	new, err := surface.NewSide(ctx, headOf(taken.Mesh))
	if err != nil {
		t.Fatal(err)
	}
	a, err := align.Sides(ctx, old, new, align.Options{})
	if err != nil {
		t.Fatal(err)
	}
	mm, _, err := firmMm(ctx, a, old, new)
	if err != nil {
		t.Fatal(err)
	}
	return mm
}

func TestFaultsAreNamed(t *testing.T) {
	last := shape(t, 1, invent.Look{}, first, asset.PartHead)
	if got := codes(t, last, shape(t, 1, invent.Look{}, again, asset.PartHead)); len(got) != 0 {
		t.Errorf("sound take: %v", got)
	}
	for _, c := range []struct {
		code  string
		scale float64
	}{{"unit", 100}, {"unit", 25.4}, {"scale", 1.006}} {
		s := shape(t, 1, invent.Look{}, again, asset.PartHead)
		s.Mesh.Transform([16]float64{c.scale, 0, 0, 0, 0, c.scale, 0, 0, 0, 0, c.scale, 0, 0, 0, 0, 1})
		if got := codes(t, last, s); !slices.Contains(got, c.code) {
			t.Errorf("%g times: %v, want %s", c.scale, got, c.code)
		}
	}
	lopsided, mirror := shape(t, 1, invent.Look{}, first, asset.PartHead), shape(t, 1, invent.Look{}, still, asset.PartHead)
	broaden(lopsided.Mesh)
	broaden(mirror.Mesh)
	if got := codes(t, lopsided, mirror); len(got) != 0 {
		t.Errorf("lopsided but sound: %v", got)
	}
	mirror.Mesh.Transform([16]float64{-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1})
	if got := codes(t, lopsided, mirror); !slices.Contains(got, "mirrored") {
		t.Errorf("mirrored: %v", got)
	}
	coarse := again
	coarse.GridMm = 9
	if got := codes(t, last, shape(t, 1, invent.Look{}, coarse, asset.PartHead)); !slices.Contains(got, "decimated") {
		t.Errorf("9 mm mesh after 5 mm: %v", got)
	}
}

func TestHeadOfABody(t *testing.T) {
	b := shape(t, 1, invent.Look{}, invent.Capture{GridMm: 12}, asset.PartBody)
	h := headOf(b.Mesh)
	if err := h.Check(); err != nil {
		t.Fatal(err)
	}
	if lo, hi, _ := h.Bounds(); hi[1]-lo[1] > .35 || len(h.Tri) == len(b.Mesh.Tri) {
		t.Errorf("the head is %.2f m high", hi[1]-lo[1])
	}
	for _, l := range h.Label {
		if terms.Region(l).Segment() == terms.Trunk && terms.Region(l) != terms.NeckFront && terms.Region(l) != terms.NeckBack {
			t.Fatalf("region %v on the head", terms.Region(l))
		}
	}
}
