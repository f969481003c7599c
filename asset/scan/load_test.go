package scan

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/gltf"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/asset/texture"
)

// box returns a closed box of the given height, half as wide and deep, with one texture square a face.
func box(height float64) *mesh.Mesh {
	h := float32(height)
	m := &mesh.Mesh{MaterialSet: []mesh.Material{{Name: "skin", Class: uint8(terms.Skin)}}}
	for i := 0; i < 8; i++ {
		m.Pos = append(m.Pos, [3]float32{float32(i&1) * h / 2, float32(i>>1&1) * h, float32(i>>2&1) * h / 2})
	}
	m.UV = [][2]float32{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	for _, q := range [][4]uint32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Tri = append(m.Tri, [3]uint32{q[0], q[1], q[2]}, [3]uint32{q[0], q[2], q[3]})
		m.TriUV = append(m.TriUV, [3]uint32{0, 1, 2}, [3]uint32{0, 2, 3})
	}
	m.Label = bytes.Repeat([]byte{uint8(terms.Chest)}, 8)
	return m
}

func flat(t *testing.T, r, g, b uint8) []byte {
	t.Helper()
	im := texture.New(4, 4)
	for i := 0; i < len(im.Pix); i += 3 {
		im.Pix[i], im.Pix[i+1], im.Pix[i+2] = r, g, b
	}
	var w bytes.Buffer
	if err := texture.EncodePNG(&w, im); err != nil {
		t.Fatal(err)
	}
	return w.Bytes()
}

func write(t *testing.T, dir, name string, data []byte) string {
	t.Helper()
	p := filepath.Join(dir, name)
	if err := os.WriteFile(p, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return p
}

func glb(t *testing.T, m *mesh.Mesh, o gltf.Options) []byte {
	t.Helper()
	var w bytes.Buffer
	if err := gltf.Encode(&w, m, o); err != nil {
		t.Fatal(err)
	}
	return w.Bytes()
}

func TestLoadFile(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	red, blue := flat(t, 200, 10, 10), flat(t, 10, 10, 200)
	embedded := write(t, dir, "ath-0147_body_a-pose_01.glb", glb(t, box(1.8), gltf.Options{Images: []*gltf.Image{{Data: red}}}))
	s, err := LoadFile(ctx, embedded, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Part != asset.PartBody || s.Pose != asset.PoseA || s.Labels != LabelsAttribute || s.MetresPerUnit != 1 || s.UnitNote != "" {
		t.Errorf("part %q, pose %q, labels %q, unit %v %q", s.Part, s.Pose, s.Labels, s.MetresPerUnit, s.UnitNote)
	}
	if len(s.BaseColor) != 1 || s.BaseColor[0] == nil || s.BaseColor[0].Pix[0] != 200 {
		t.Errorf("base colour %v, notes %q", s.BaseColor, s.Notes)
	}
	// A texture beside serves a mesh without a picture, and its bytes are part of the take's hash.
	bare := write(t, dir, "ath-0147_head_neutral_01.glb", glb(t, box(0.28), gltf.Options{}))
	without, err := LoadFile(ctx, bare, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if without.BaseColor[0] != nil || len(without.Notes) != 1 || !strings.Contains(without.Notes[0], "no base colour") {
		t.Errorf("without a picture: %v, notes %q", without.BaseColor, without.Notes)
	}
	write(t, dir, "ath-0147_head_neutral_01_base-color.png", blue)
	write(t, dir, "ath-0147_head_neutral_01_normal.png", red)
	with, err := LoadFile(ctx, bare, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if with.BaseColor[0] == nil || with.BaseColor[0].Pix[2] != 200 {
		t.Errorf("with a texture beside: %v, notes %q", with.BaseColor, with.Notes)
	}
	if with.Hash == without.Hash {
		t.Error("the texture does not count in the hash")
	}
	want := HashOf([]Member{
		{"texture/normal", asset.HashBytes(red)}, {"texture/base-color", asset.HashBytes(blue)},
		{"mesh", asset.HashBytes(glb(t, box(0.28), gltf.Options{}))},
	})
	if with.Hash != want {
		t.Errorf("hash %s, want %s", with.Hash.Short(), want.Short())
	}
}

func TestTextureThatTheMeshNames(t *testing.T) {
	dir := t.TempDir()
	p := write(t, dir, "head.glb", glb(t, box(0.3), gltf.Options{Images: []*gltf.Image{{File: "skin tone.png"}}}))
	s, err := LoadFile(context.Background(), p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s.BaseColor[0] != nil || !strings.Contains(strings.Join(s.Notes, "\n"), `texture "skin tone.png" is missing`) {
		t.Errorf("missing texture: notes %q", s.Notes)
	}
	lost := s.Hash
	write(t, dir, "skin tone.png", flat(t, 1, 2, 3))
	if s, err = LoadFile(context.Background(), p, Options{}); err != nil {
		t.Fatal(err)
	}
	if s.BaseColor[0] == nil || s.BaseColor[0].Pix[1] != 2 || s.Hash == lost {
		t.Errorf("texture beside: %v, notes %q", s.BaseColor, s.Notes)
	}
	listed, err := Load(context.Background(), dir, []string{"skin tone.png", "head.glb"}, Options{})
	if err != nil || listed.Hash != s.Hash {
		t.Errorf("the same files listed: another hash, %v", err)
	}
}

// Heights in the file's numbers, with the factor that must come out; 0 is an error.
func TestUnit(t *testing.T) {
	for _, c := range []struct {
		name   string
		height float64
		factor float64
	}{
		{"x_body_a-pose_01.glb", 1.78, 1}, {"x_body_a-pose_01.glb", 178, 0.01}, {"x_body_a-pose_01.glb", 1780, 0.001},
		{"x_body_a-pose_01.glb", 70, 0.0254}, {"x_body_a-pose_01.glb", 17.8, 0.1}, {"x_body_a-pose_01.glb", 4.5, 0},
		{"x_body_a-pose_01.glb", 0.9, 1}, {"x_body_a-pose_01.glb", 30000, 0},
		{"x_head_neutral_01.glb", 0.31, 1}, {"x_head_neutral_01.glb", 31, 0.01}, {"x_head_neutral_01.glb", 310, 0.001},
		{"x_head_neutral_01.glb", 12, 0.0254}, {"x_head_neutral_01.glb", 19, 0},
		{"take.glb", 1.78, 1}, {"take.glb", 0.3, 1}, {"take.glb", 178, 0.01}, {"take.glb", 30, 0.01}, {"take.glb", 70, 0.0254}, {"take.glb", 50, 0},
	} {
		p := write(t, t.TempDir(), c.name, glb(t, box(c.height), gltf.Options{}))
		s, err := LoadFile(context.Background(), p, Options{})
		if c.factor == 0 {
			var u *UnitError
			if !errors.As(err, &u) {
				t.Errorf("%s, %v units: error %v, want a unit error", c.name, c.height, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s, %v units: %v", c.name, c.height, err)
			continue
		}
		_, hi, _ := s.Mesh.Bounds()
		if s.MetresPerUnit != c.factor || math.Abs(hi[1]-c.factor*c.height) > 1e-6*hi[1] {
			t.Errorf("%s, %v units: factor %v and %v m, want factor %v", c.name, c.height, s.MetresPerUnit, hi[1], c.factor)
		}
		if (c.factor != 1) != strings.HasPrefix(s.UnitNote, "taken as") {
			t.Errorf("%s, %v units: note %q", c.name, c.height, s.UnitNote)
		}
		given, err := LoadFile(context.Background(), p, Options{MetresPerUnit: 0.5})
		if err != nil || given.MetresPerUnit != 0.5 {
			t.Errorf("given unit: %v, %v", given, err)
		}
	}
	e := &UnitError{Name: "old.glb", Part: asset.PartBody, Units: 4.5, LowM: 1.2, HighM: 2.4}
	if got, want := e.Error(), "old.glb is 4.5 units in extent, a body has 1.2 to 2.4 m: unit of old.glb unknown"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestFilesOutsideTheFolderAreNotRead(t *testing.T) {
	dir := t.TempDir()
	inside := filepath.Join(dir, "in")
	if err := os.Mkdir(inside, 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, dir, "secret.png", flat(t, 9, 9, 9))
	if err := os.Symlink("../secret.png", filepath.Join(inside, "link.png")); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"../secret.png", "link.png"} {
		write(t, inside, "head.glb", glb(t, box(0.3), gltf.Options{Images: []*gltf.Image{{File: name}}}))
		if _, err := Load(context.Background(), inside, []string{"head.glb"}, Options{}); err == nil {
			t.Errorf("%s: read", name)
		}
		if _, err := Load(context.Background(), inside, []string{"head.glb", name}, Options{}); err == nil {
			t.Errorf("%s in the list: read", name)
		}
	}
}

func TestNameThatIsALink(t *testing.T) {
	dir := t.TempDir()
	real := filepath.Join(dir, "real")
	if err := os.Mkdir(real, 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, real, "x_head_neutral_01.glb", glb(t, box(0.3), gltf.Options{}))
	write(t, real, "x_head_neutral_01_base-color.png", flat(t, 1, 2, 3))
	link := filepath.Join(dir, "latest.glb")
	if err := os.Symlink("real/x_head_neutral_01.glb", link); err != nil {
		t.Fatal(err)
	}
	s, err := LoadFile(context.Background(), link, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Name != link || s.Part != asset.PartHead || s.BaseColor[0] == nil {
		t.Errorf("name %q, part %q, picture %v", s.Name, s.Part, s.BaseColor[0])
	}
}

// A floor wider than the person is tall does not hide the person's size.
func TestFloorDoesNotCount(t *testing.T) {
	m := box(1.8)
	n := uint32(len(m.Pos))
	m.Pos = append(m.Pos, [3]float32{-3, -0.1, -3}, [3]float32{3, -0.1, -3}, [3]float32{0, -0.1, 3})
	m.Tri = append(m.Tri, [3]uint32{n, n + 2, n + 1})
	m.TriUV = append(m.TriUV, [3]uint32{0, 1, 2})
	m.Label = append(m.Label, 0, 0, 0)
	m.MaterialSet = append(m.MaterialSet, mesh.Material{Name: "floor", Class: uint8(terms.Stand)})
	m.Material = make([]uint16, len(m.Tri))
	m.Material[len(m.Tri)-1] = 1
	s, err := LoadFile(context.Background(), write(t, t.TempDir(), "x_body_a-pose_01.glb", glb(t, m, gltf.Options{})), Options{})
	if err != nil || s.MetresPerUnit != 1 || s.UnitNote != "" {
		t.Fatalf("%+v, %v", s, err)
	}
	if lo, hi := Bounds(s.Mesh); lo[1] != 0 || hi[0] > 1 {
		t.Errorf("bounds %v %v", lo, hi)
	}
	if c := s.Mesh.ClassOf(len(s.Mesh.Tri) - 1); c != uint8(terms.Stand) {
		t.Errorf("class of the floor is %d", c)
	}
}

func TestLoadRefuses(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "a.glb", glb(t, box(0.3), gltf.Options{}))
	write(t, dir, "b.glb", glb(t, box(0.3), gltf.Options{}))
	write(t, dir, "c.ply", []byte("ply\n"))
	for _, files := range [][]string{{}, {"a.glb", "b.glb"}, {"c.ply"}, {"gone.glb"}} {
		if _, err := Load(context.Background(), dir, files, Options{}); err == nil {
			t.Errorf("%q: no error", files)
		} else {
			t.Log(strings.ReplaceAll(err.Error(), dir, "DIR"))
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Load(ctx, dir, []string{"a.glb"}, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
