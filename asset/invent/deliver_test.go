package invent

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/asset/terms"
)

var small = Capture{GridMm: 14, TexSize: 128, JPEGQuality: 90}

func load(t *testing.T, dir, name string) (*scan.Scan, error) {
	t.Helper()
	return scan.LoadFile(context.Background(), filepath.Join(dir, name), scan.Options{})
}

func TestDeliveryLoads(t *testing.T) {
	p := person(Tuning, 3, 2)
	head := Capture{GridMm: 6, TexSize: 256}
	shots := []Shot{
		{Part: asset.PartBody, Look: inked(), Capture: small},
		{Part: asset.PartHead, Look: inked(), Capture: head, Number: 2, Beside: true},
	}
	dir, again := t.TempDir(), t.TempDir()
	names, err := p.Deliver(context.Background(), dir, "ath-0147", shots)
	if err != nil {
		t.Fatal(err)
	}
	want := "ath-0147_body_a-pose_01.glb ath-0147_head_neutral_02.glb ath-0147_head_neutral_02_base-color.png"
	if got := strings.Join(names, " "); got != want {
		t.Errorf("files %s, want %s", got, want)
	}
	if _, err := p.Deliver(context.Background(), again, "ath-0147", shots); err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		a, err1 := os.ReadFile(filepath.Join(dir, n))
		b, err2 := os.ReadFile(filepath.Join(again, n))
		if err := errors.Join(err1, err2); err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s: second delivery differs (%v)", n, err)
		}
	}
	for _, n := range names[:2] {
		s, err := load(t, dir, n)
		if err != nil {
			t.Fatal(err)
		}
		if s.Mesh.Label == nil || s.Mesh.TriUV == nil || len(s.BaseColor) == 0 || s.BaseColor[0] == nil {
			t.Errorf("%s: labels %v, texture coordinates %v, base colours %d", n, s.Mesh.Label != nil, s.Mesh.TriUV != nil, len(s.BaseColor))
		}
	}
}

func TestFaultsAreReallyThere(t *testing.T) {
	p := person(Tuning, 3, 2)
	sound, surface, err := p.Take(context.Background(), Look{}, small, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	m := sound.Mesh
	extent := func(m *mesh.Mesh) mesh.Vec { lo, hi, _ := m.Bounds(); return hi.Sub(lo) }
	open := func(m *mesh.Mesh) (n int) {
		for _, e := range m.Edges() {
			if e.Count != 2 {
				n++
			}
		}
		return n
	}
	if open(m) != 0 {
		t.Fatalf("the sound body has %d open edges", open(m))
	}
	full := extent(m)
	for _, c := range []struct {
		fault Fault
		ok    func(b *mesh.Mesh) bool
	}{
		{Centimetres, func(b *mesh.Mesh) bool { return math.Abs(extent(b)[1]-100*full[1]) < 1e-3 }},
		{Millimetres, func(b *mesh.Mesh) bool { return math.Abs(extent(b)[1]-1000*full[1]) < 1e-2 }},
		{Inches, func(b *mesh.Mesh) bool { return math.Abs(extent(b)[1]-full[1]/.0254) < 1e-3 }},
		{ScaleDrift, func(b *mesh.Mesh) bool { return math.Abs(extent(b)[1]-1.006*full[1]) < 1e-5 }},
		{ZUp, func(b *mesh.Mesh) bool { return math.Abs(extent(b)[2]-full[1]) < 1e-6 && b.Volume() > 0 }},
		{Mirrored, func(b *mesh.Mesh) bool { return b.Volume() > 0 && leftIs(b) < 0 && leftIs(m) > 0 }},
		{FacingBack, func(b *mesh.Mesh) bool { return b.Volume() > 0 && b.Pos[0][2] == -m.Pos[0][2] }},
		{Hole, func(b *mesh.Mesh) bool { return open(b) > 6 && b.Area() < m.Area()-.001 }},
		{Membranes, func(b *mesh.Mesh) bool { return open(b) == 0 && extent(b)[1] < full[1]-.015 }},
		{Floor, func(b *mesh.Mesh) bool { _, n := b.Components(); return n == 3 && extent(b)[0] >= 1.2 }},
		{FusedFingers, func(b *mesh.Mesh) bool { return b.Volume() > m.Volume()+1e-6 }},
	} {
		before := m.Clone()
		b := c.fault.bend(p, m, surface)
		if !c.ok(b) {
			t.Errorf("%s: not there", c.fault)
		}
		if err := b.Check(); err != nil {
			t.Errorf("%s: %v", c.fault, err)
		}
		if !equalPos(before, m) {
			t.Fatalf("%s: changed the sound mesh", c.fault)
		}
	}
}

func equalPos(a, b *mesh.Mesh) bool {
	if len(a.Pos) != len(b.Pos) || len(a.Tri) != len(b.Tri) {
		return false
	}
	for i := range a.Pos {
		if a.Pos[i] != b.Pos[i] {
			return false
		}
	}
	return true
}

// leftIs returns the mean x of the left hand.
func leftIs(m *mesh.Mesh) (sum float64) {
	n := 0.0
	for i, l := range m.Label {
		if terms.Region(l) == terms.HandLeft {
			sum, n = sum+float64(m.Pos[i][0]), n+1
		}
	}
	return sum / n
}

func TestFaultsOfFiles(t *testing.T) {
	p := person(Tuning, 3, 2)
	other := person(Tuning, 4, 0)
	dir := t.TempDir()
	shot := func(n int, f ...Fault) Shot {
		return Shot{Part: asset.PartHead, Number: n, Capture: Capture{GridMm: 7, TexSize: 128, JPEGQuality: 90}, Faults: f}
	}
	shots := []Shot{shot(1), shot(2, NoTexture), shot(3, NotANumber), shot(4, Truncated), shot(5, Twice), shot(6, LeftOut), shot(7, FlippedV), shot(8)}
	shots[7].Person = &other
	names, err := p.Deliver(context.Background(), dir, "ath-0003", shots)
	if err != nil {
		t.Fatal(err)
	}
	if len(names) != 8 || names[5] != "ath-0003_head_neutral_05 copy.glb" {
		t.Errorf("files: %v", names)
	}
	sound, err := load(t, dir, names[0])
	if err != nil {
		t.Fatal(err)
	}
	if s, err := load(t, dir, names[1]); err != nil || s.BaseColor[0] != nil {
		t.Errorf("no texture: %v", err)
	}
	if _, err := load(t, dir, names[2]); err == nil || !strings.Contains(err.Error(), "NaN") {
		t.Errorf("NaN: %v", err)
	}
	if _, err := load(t, dir, names[3]); err == nil {
		t.Error("truncated: loads")
	}
	a, _ := os.ReadFile(filepath.Join(dir, names[4]))
	b, _ := os.ReadFile(filepath.Join(dir, names[5]))
	if len(a) == 0 || !bytes.Equal(a, b) {
		t.Error("twice: the copy differs")
	}
	if s, err := load(t, dir, names[6]); err != nil || s.BaseColor[0].Hash() == sound.BaseColor[0].Hash() {
		t.Errorf("flipped v: %v", err)
	}
	if s, err := load(t, dir, names[7]); err != nil || len(s.Mesh.Pos) == len(sound.Mesh.Pos) {
		t.Errorf("another person: %v", err)
	}
}

func TestLitterIsNoScan(t *testing.T) {
	dir := t.TempDir()
	names, err := Litter(dir, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		if i, err := fs.Stat(os.DirFS(dir), n); err != nil || i.Size() == 0 {
			t.Errorf("%s: %v", n, err)
		}
		if _, err := load(t, dir, n); err == nil {
			t.Errorf("%s loads as a scan", n)
		}
	}
}
