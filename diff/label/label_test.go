package label

import (
	"context"
	"errors"
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
)

func body(t *testing.T, seed uint64, c invent.Capture) *mesh.Mesh {
	t.Helper()
	s, err := invent.NewPerson(invent.Tuning, seed).Surface(context.Background(), invent.Look{}, c, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	return s.Mesh
}

func TestLabelsReachAnotherTopology(t *testing.T) {
	from := body(t, 41, invent.Capture{Seed: 1, GridMm: 10})
	to := body(t, 41, invent.Capture{Seed: 2, GridMm: 9, GridTurnDeg: 21, NoiseMm: 0.3, BreathMm: 3})
	before := append([]uint8(nil), to.Label...)
	got, covered, err := Transfer(context.Background(), from, to, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if covered < 0.999 {
		t.Errorf("%.4f of the vertices covered, want all", covered)
	}
	var same, all float64
	for k, tri := range to.Tri {
		a := to.TriangleArea(k)
		all += a
		if got[tri[0]] == to.Label[tri[0]] {
			same += a
		}
	}
	if same/all < 0.95 {
		t.Errorf("%.3f of the area labelled as drawn, want .95", same/all)
	}
	for i := range before {
		if before[i] != to.Label[i] {
			t.Fatal("the argument was changed")
		}
	}
}

func TestFarAndTurnedAwayPointsCarryNone(t *testing.T) {
	from := &mesh.Mesh{Pos: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, Tri: [][3]uint32{{0, 1, 2}},
		Label: []uint8{uint8(terms.Nose), uint8(terms.Chin), uint8(terms.Lips)}}
	to := &mesh.Mesh{Pos: [][3]float32{{.1, .1, .02}, {.9, .05, .02}, {.1, .8, .5}, {.1, .1, .02001}, {.2, .1, .02}, {.1, .2, .02}},
		Tri: [][3]uint32{{0, 1, 2}, {3, 5, 4}}}
	got, covered, err := Transfer(context.Background(), from, to, Options{Rounds: -1})
	if err != nil {
		t.Fatal(err)
	}
	want := []uint8{uint8(terms.Nose), uint8(terms.Chin), 0, 0, 0, 0}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("vertex %d: %s, want %s", i, terms.Region(got[i]), terms.Region(want[i]))
		}
	}
	if covered != 2.0/6 {
		t.Errorf("covered %.3f, want .333", covered)
	}
}

func TestMajorityFillsAPinhole(t *testing.T) {
	m := &mesh.Mesh{Pos: make([][3]float32, 7)}
	for i := uint32(1); i <= 6; i++ {
		m.Tri = append(m.Tri, [3]uint32{0, i, i%6 + 1})
	}
	if got := vote(m, []uint8{0, 3, 3, 3, 3, 5, 5}); got[0] != 3 {
		t.Errorf("middle got %d, want 3", got[0])
	}
}

func TestNoLabelsToTake(t *testing.T) {
	if _, _, err := Transfer(context.Background(), &mesh.Mesh{}, &mesh.Mesh{}, Options{}); !errors.Is(err, ErrNoLabels) {
		t.Errorf("got %v", err)
	}
}
