package scan

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/gltf"
	"mien/asset/mesh"
	"mien/asset/obj"
	"mien/asset/ply"
	"mien/asset/terms"
)

func objOf(t *testing.T, m *mesh.Mesh, library string) []byte {
	t.Helper()
	var w bytes.Buffer
	if err := obj.Encode(&w, m, obj.Options{Library: library}); err != nil {
		t.Fatal(err)
	}
	return w.Bytes()
}

func plyOf(t *testing.T, m *mesh.Mesh, o ply.Options) []byte {
	t.Helper()
	var w bytes.Buffer
	if err := ply.Encode(&w, m, o); err != nil {
		t.Fatal(err)
	}
	return w.Bytes()
}

// One body in three formats is one surface with one picture.
func TestFormatsAgree(t *testing.T) {
	ctx, m := context.Background(), box(1.8)
	red := flat(t, 200, 10, 10)
	a, err := LoadFile(ctx, write(t, t.TempDir(), "x_body_a-pose_01.glb", glb(t, m, gltf.Options{Images: []*gltf.Image{{Data: red}}})), Options{})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "maps"), 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "maps"), "skin.png", red)
	library := write(t, dir, "set.mtl", []byte("newmtl skin\nmap_Kd maps\\skin.png\n"))
	objName := write(t, dir, "x_body_a-pose_01.OBJ", objOf(t, m, "set.mtl"))
	plyName := write(t, dir, "y_body_a-pose_01.ply", plyOf(t, m, ply.Options{Pictures: []string{"maps/skin.png"}}))
	for _, n := range []string{objName, plyName} {
		b, err := LoadFile(ctx, n, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a.Mesh.Pos, b.Mesh.Pos) || !reflect.DeepEqual(a.Mesh.Tri, b.Mesh.Tri) {
			t.Errorf("%s: another surface", n)
		}
		for k, tri := range b.Mesh.TriUV {
			for c := range tri {
				if got, want := b.Mesh.UV[tri[c]], a.Mesh.UV[a.Mesh.TriUV[k][c]]; got != want {
					t.Fatalf("%s: triangle %d: texture coordinate %v, want %v", n, k, got, want)
				}
			}
		}
		if len(b.BaseColor) != 1 || b.BaseColor[0] == nil || b.BaseColor[0].Pix[0] != 200 || len(b.Notes) != 0 {
			t.Errorf("%s: base colour %v, notes %q", n, b.BaseColor, b.Notes)
		}
		if b.Part != asset.PartBody || b.Labels != LabelsNone || b.UnitNote != "taken as m: 1.8 m in extent, the file states no unit" {
			t.Errorf("%s: part %q, labels %q, unit %q", n, b.Part, b.Labels, b.UnitNote)
		}
		want := []Member{{"texture/base-color", asset.HashBytes(red)}}
		data, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, Member{"mesh", asset.HashBytes(data)})
		listed := []string{filepath.Base(n), "maps/skin.png"}
		if n == objName {
			want = append(want, Member{"mesh/material", asset.HashBytes([]byte("newmtl skin\nmap_Kd maps\\skin.png\n"))})
			listed = append(listed, "set.mtl")
			if b.Mesh.ClassOf(0) != uint8(terms.Skin) {
				t.Errorf("%s: class %d", n, b.Mesh.ClassOf(0))
			}
		}
		if b.Hash != HashOf(want) {
			t.Errorf("%s: hash is not that of the mesh, its library and picture", n)
		}
		same, err := Load(ctx, dir, listed, Options{})
		if err != nil || same.Hash != b.Hash {
			t.Errorf("%s: the same files listed: another hash, %v", n, err)
		}
	}
	// The library goes by the mesh's name now.
	if err := os.Rename(library, filepath.Join(dir, "x_body_a-pose_01.mtl")); err != nil {
		t.Fatal(err)
	}
	b, err := LoadFile(ctx, objName, Options{})
	if err != nil || b.BaseColor[0] == nil || len(b.Notes) != 1 || !strings.Contains(b.Notes[0], `the file names "set.mtl"`) {
		t.Errorf("renamed library: notes %q, %v", b.Notes, err)
	}
	// A picture that is not there is named.
	if err := os.Remove(filepath.Join(dir, "maps", "skin.png")); err != nil {
		t.Fatal(err)
	}
	for _, n := range []string{objName, plyName} {
		b, err := LoadFile(ctx, n, Options{})
		if err != nil || b.BaseColor[0] != nil || !strings.Contains(strings.Join(b.Notes, "\n"), `skin.png" is missing`) {
			t.Errorf("%s: notes %q, %v", n, b.Notes, err)
		}
	}
}

// Heights in the file's numbers, with the factor that must come out where the format states no unit; 0
// is an error.
func TestUnitOfFormatsWithoutOne(t *testing.T) {
	for _, c := range []struct {
		name   string
		height float64
		factor float64
	}{
		{"x_body_a-pose_01.obj", 1.78, 1}, {"x_body_a-pose_01.ply", 178, 0.01}, {"x_body_a-pose_01.obj", 1780, 0.001},
		{"x_body_a-pose_01.ply", 70, 0.0254}, {"x_body_a-pose_01.obj", 4.5, 0}, {"x_body_a-pose_01.obj", 0.9, 0}, {"x_body_a-pose_01.ply", 30000, 0},
		{"x_head_neutral_01.ply", 0.31, 1}, {"x_head_neutral_01.obj", 31, 0.01}, {"x_head_neutral_01.ply", 310, 0.001}, {"x_head_neutral_01.obj", 19, 0},
		{"take.obj", 1.78, 1}, {"take.ply", 0.3, 1}, {"take.obj", 178, 0.01}, {"take.ply", 50, 0}, {"take.obj", 190, 0},
	} {
		data := objOf(t, box(c.height), "")
		if strings.HasSuffix(c.name, ".ply") {
			data = plyOf(t, box(c.height), ply.Options{})
		}
		p := write(t, t.TempDir(), c.name, data)
		s, err := LoadFile(context.Background(), p, Options{})
		var u *UnitError
		if c.factor == 0 {
			if !errors.As(err, &u) {
				t.Errorf("%s, %v units: error %v, want a unit error", c.name, c.height, err)
			}
		} else if err != nil || s.MetresPerUnit != c.factor || !strings.HasPrefix(s.UnitNote, "taken as") || !strings.HasSuffix(s.UnitNote, "states no unit") {
			t.Errorf("%s, %v units: %+v, %v, want factor %v", c.name, c.height, s, err, c.factor)
		}
		given, err := LoadFile(context.Background(), p, Options{MetresPerUnit: 0.5})
		if err != nil || given.MetresPerUnit != 0.5 || given.UnitNote != "unit given: 0.5 m" {
			t.Errorf("given unit: %v", err)
		}
	}
}

func TestFormatErrorsNameTheFile(t *testing.T) {
	p := write(t, t.TempDir(), "head_neutral.obj", []byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9001\n"))
	_, err := LoadFile(context.Background(), p, Options{})
	var f *obj.FormatError
	if !errors.As(err, &f) || err.Error() != p+":4: face index 9001 out of range 1 to 3" {
		t.Errorf("got %v", err)
	}
	p = write(t, t.TempDir(), "head.ply", []byte("ply\nformat ascii 1.0\nelement vertex 1\nproperty list int float x\nproperty float y\nproperty float z\nend_header\n"))
	_, err = LoadFile(context.Background(), p, Options{})
	var u *ply.UnsupportedError
	if !errors.As(err, &u) || err.Error() != p+`: unsupported: vertex property "x" is a list` {
		t.Errorf("got %v", err)
	}
}
