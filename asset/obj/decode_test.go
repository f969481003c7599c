package obj

import (
	"bytes"
	"context"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"
	"testing/iotest"

	"mien/asset/mesh"
	"mien/asset/terms"
)

func decode(t *testing.T, text string, dir fstest.MapFS) *File {
	t.Helper()
	f, err := Decode(context.Background(), "head.obj", strings.NewReader(text), dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Mesh.Check(); err != nil {
		t.Fatal(err)
	}
	return f
}

const square = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nvn 0 0 1\n"

// However a face is written, it is the same two triangles.
func TestFormsOfAFace(t *testing.T) {
	want := [][3]uint32{{0, 1, 2}, {0, 2, 3}}
	for _, c := range []struct {
		text string
		uv   bool
	}{
		{square + "f 1 2 3 4\n", false},
		{square + "f 1 2 3\nf 1 3 4", false},
		{square + "f -4 -3 -2 -1\n", false},
		{square + "f 1/1 2/2 3/3 4/4\n", true},
		{square + "f 1//1 2//1 3//1 4//1\n", false},
		{square + "f 1/1/1 2/2/1 3/3/1 4/4/1\n", true},
		{square + "f -4/-4/-1 -3/-3/-1 -2/-2/-1 -1/-1/-1 # a face\n", true},
		{square + "f 1/1 2/2 \\\n 3/3 \\\r\n\t4/4\n", true},
		{square + "  f\t1/1   2/2\t3/3 4/4  \t\n", true},
		{square + "f 1/1/ 2/2/ 3/3/ 4/4/\n", true},
		{strings.ReplaceAll("\ufeff# exported\n"+square+"g a b\ns off\no thing\nf 1 2 3 4\n", "\n", "\r\n"), false},
		{"f 1/1 2/2 3/3 4/4\n" + square, true},
		{"# C:\\scans\\\n\\\n" + square + "f 1 2 3 4\n", false},
	} {
		for _, r := range []func(string) *File{
			func(s string) *File { return decode(t, s, nil) },
			func(s string) *File {
				f, err := Decode(context.Background(), "head.obj", iotest.OneByteReader(strings.NewReader(s)), nil)
				if err != nil {
					t.Fatal(err)
				}
				return f
			},
		} {
			if strings.Contains(c.text, "1/1/ ") {
				if _, err := Decode(context.Background(), "x.obj", strings.NewReader(c.text), nil); err == nil {
					t.Errorf("%q: no error", c.text)
				}
				continue
			}
			f := r(c.text)
			if !reflect.DeepEqual(f.Mesh.Tri, want) || len(f.Mesh.Pos) != 4 {
				t.Errorf("%q: triangles %v", c.text, f.Mesh.Tri)
			}
			if !c.uv {
				if f.Mesh.TriUV != nil || f.Mesh.UV != nil {
					t.Errorf("%q: texture coordinates", c.text)
				}
				continue
			}
			if !reflect.DeepEqual(f.Mesh.TriUV, want) || !reflect.DeepEqual(f.Mesh.UV, [][2]float32{{0, 1}, {1, 1}, {1, 0}, {0, 0}}) {
				t.Errorf("%q: texture coordinates %v of %v, origin at the top", c.text, f.Mesh.TriUV, f.Mesh.UV)
			}
		}
	}
}

func TestPolygonsAreCut(t *testing.T) {
	arrow := "v 1 0 0\nv .4 .4 0\nv 0 1 0\nv 0 0 0\n"
	want := [][3]uint32{{1, 2, 3}, {0, 1, 3}}
	for _, text := range []string{arrow + "f 1 2 3 4\n", "f 1 2 3 4\n" + arrow} {
		if f := decode(t, text, nil); !reflect.DeepEqual(f.Mesh.Tri, want) {
			t.Errorf("concave: %v, want %v", f.Mesh.Tri, want)
		}
	}
	f := decode(t, "v 0 0 0\nv 4 0 0\nv 4 4 0\nv 2 1 0\nv 0 4 0\nvt 0 0\nf 1/1 2/1 3/1 4/1 5/1\nf 1 2 3\n", nil)
	if len(f.Mesh.Tri) != 4 || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "1 triangles have no texture") {
		t.Errorf("%d triangles, notes %q", len(f.Mesh.Tri), f.Notes)
	}
	sum := 0.0
	for k := range 3 {
		sum += f.Mesh.TriangleArea(k)
	}
	if math.Abs(sum-10) > 1e-6 {
		t.Errorf("area %v, want 10", sum)
	}
}

func TestVertexForms(t *testing.T) {
	f := decode(t, "v 0 0 0 1\nv 1 0 0 2.0\nv 0 1e0 -0 0.5 0.25 0\nv +1 .5 1. 1 1 1 1\nf 1 2 3\nf 2 3 4\n", nil)
	if want := [][3]uint8{{255, 255, 255}, {255, 255, 255}, {128, 64, 0}, {255, 255, 255}}; !reflect.DeepEqual(f.Color, want) {
		t.Errorf("colours %v, want %v", f.Color, want)
	}
	if f.Mesh.Pos[3] != [3]float32{1, .5, 1} || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "1 vertices have a weight") {
		t.Errorf("positions %v, notes %q", f.Mesh.Pos, f.Notes)
	}
	f = decode(t, "v 9 9 9 1 2 3\nv 0 0 0 200 0 0\nv 1 0 0 0 100 0\nv 0 1 0 0 0 255\nv 1 0 0 7 7 7\nf 2 3 4\nf 2 5 4\nf 2 3 5\n", nil)
	if want := [][3]uint8{{200, 0, 0}, {0, 100, 0}, {0, 0, 255}}; !reflect.DeepEqual(f.Color, want) || len(f.Mesh.Pos) != 3 || len(f.Mesh.Tri) != 2 {
		t.Errorf("colours in 255ths %v, want %v; %d triangles", f.Color, want, len(f.Mesh.Tri))
	}
}

const someMaterials = `# materials
newmtl plain skin
Kd .8 .7 .6
map_Kd -s 1 1 1 -o 0 0 0 -clamp on textures\Skin Tone.png
newmtl "hair"
map_Kd C:\Users\someone\hair.jpg
map_Bump bump.png
newmtl shoe
map_Kd -s 2 2 ../../etc/passwd
newmtl bare
newmtl bare
map_Kd late.png
`

func TestMaterials(t *testing.T) {
	dir := fstest.MapFS{
		"my set.mtl":             {Data: []byte(someMaterials)},
		"textures/Skin Tone.png": {Data: []byte("1")},
		"HAIR.JPG":               {Data: []byte("2")},
	}
	body := "f 1 2 3\nusemtl plain skin\nf 2 3 4\nusemtl hair\nf 3 4 1\nusemtl shoe\nf 4 1 2\nusemtl bare\nf 1 2 4\nusemtl unused\nusemtl plain skin\nf 1 3 4\n"
	f := decode(t, "mtllib my set.mtl\n"+square+body, dir)
	want := []mesh.Material{{}, {Name: "plain skin", Class: uint8(terms.Skin)}, {Name: "hair", Class: uint8(terms.HairClass)}, {Name: "shoe", Class: uint8(terms.Shoe)}, {Name: "bare"}}
	if !reflect.DeepEqual(f.Mesh.MaterialSet, want) || !reflect.DeepEqual(f.Mesh.Material, []uint16{0, 1, 2, 3, 4, 1}) {
		t.Errorf("materials %v of %v", f.Mesh.Material, f.Mesh.MaterialSet)
	}
	if want := []string{"", "textures/Skin Tone.png", "HAIR.JPG", "", ""}; !reflect.DeepEqual(f.Pictures, want) {
		t.Errorf("pictures %q, want %q", f.Pictures, want)
	}
	if !reflect.DeepEqual(f.Libraries, []string{"my set.mtl"}) || !reflect.DeepEqual(f.Lost, []string{"../../etc/passwd"}) {
		t.Errorf("libraries %q, lost %q", f.Libraries, f.Lost)
	}
	if n := strings.Join(f.Notes, "\n"); n != `material "shoe": option -s of its picture is not applied` {
		t.Errorf("notes %q", n)
	}
	// One material only, and names that mean two libraries.
	dir["b.mtl"], dir["set.mtl"] = &fstest.MapFile{Data: []byte("newmtl skin\nmap_Kd -bm 1 2.png")}, &fstest.MapFile{}
	dir["2.png"] = &fstest.MapFile{}
	f = decode(t, "mtllib set.mtl b.mtl gone.mtl\nusemtl skin\n"+square+"f 1 2 3\n", dir)
	if len(f.Mesh.MaterialSet) != 1 || f.Mesh.Material != nil || !reflect.DeepEqual(f.Pictures, []string{"2.png"}) {
		t.Errorf("materials %v, pictures %q", f.Mesh.MaterialSet, f.Pictures)
	}
	if n := strings.Join(f.Notes, "\n"); n != `material library "gone.mtl" is missing` {
		t.Errorf("notes %q", n)
	}
	// A library that goes by another name now.
	f, err := Decode(context.Background(), "x.obj", strings.NewReader("mtllib old.mtl\nusemtl skin\n"+square+"f 1 2 3\n"), dir, "b.mtl")
	if err != nil || f.Pictures[0] != "2.png" || f.Notes[0] != `material library "b.mtl" is read, the file names "old.mtl"` {
		t.Errorf("spare library: %+v, %v", f, err)
	}
}

// Every file breaks one rule; the error says which and where.
func TestBrokenFiles(t *testing.T) {
	for text, want := range map[string]string{
		"":                                     "head.obj: no triangles in 0 lines",
		"hello":                                "head.obj: no triangles in 1 lines",
		square:                                 "no triangles in 9 lines",
		square + "f 1 2 9001\n":                "head.obj:10: face index 9001 out of range 1 to 4",
		"f 1 2 9\nf 1 2 3 8\n" + square:        "head.obj:1: face index 9 out of range 1 to 4",
		square + "f 1 2 0\n":                   "head.obj:10: face index 0 out of range 1 to 4",
		square + "f 1 2 -5\n":                  "head.obj:10: face index -5 out of range -1 to -4",
		square + "f 1 2 -0\n":                  "face index -0 out of range",
		square + "f 1 2 99999999999999999\n":   "face index 99999999999999999 out of range 1 to 4",
		square + "f 1/1 2/2 3/5\n":             "head.obj:10: texture coordinate index 5 out of range 1 to 4",
		square + "v 2 2 2\nf 1/1 2/2 5/5\n":    "head.obj:11: texture coordinate index 5 out of range 1 to 4",
		square + "f 1/0 2/2 3/3\n":             "texture coordinate index 0 out of range 1 to 4",
		square + "f 1 2\n":                     "head.obj:10: f: 2 corners, allowed are 3 and more",
		square + "f\n":                         "head.obj:10: f: nothing follows",
		square + "f 1 2 x\n":                   `head.obj:10: f: "x" is no index`,
		square + "f 1 2 3.5\n":                 `head.obj:10: f: corner "3.5"`,
		square + "f 1/1/x 2 3\n":               `corner "1/1/x"`,
		square + "f 1/2/3/4 2 3\n":             `corner "1/2/3/4"`,
		"v 0 0\n":                              "head.obj:1: v: 2 numbers, allowed are 3 and more",
		"v 0 nan 0\n":                          `head.obj:1: v: y is "nan", allowed are finite numbers`,
		"\n\nv 0 0 1e99\n":                     `head.obj:3: v: "1e99" is beyond the range of numbers`,
		"v 1 2 3 4 5 6 7 8\n":                  `v: "8" is no number`,
		"v 1 2 3 red\n":                        `v: "red" is no number`,
		"v 1,5 2 3\n":                          `v: y is ",5"`,
		"vt a\n":                               `head.obj:1: vt: u is "a"`,
		"vt 1e99\n":                            "vt: beyond the range of numbers",
		"v 1 \\\n2 \\\n x\n":                   `head.obj:3: v: z is "x"`,
		"0.5 0.5 0.5\n":                        `head.obj:1: line begins with "0.5"`,
		"\x00\x01\x02":                         "head.obj:1: a zero byte",
		square + "\\":                          `head.obj: no triangles`,
		square + "\\x 1 2":                     `line begins with "\\x"`,
		"v 1 2 3\nv 1 2 3\nv 1 2 3\nf 1 2 3\n": "no triangles",
	} {
		_, err := Decode(context.Background(), "head.obj", strings.NewReader(text), nil)
		var f *FormatError
		if !errors.As(err, &f) || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want a format error with %q", text, err, want)
		}
	}
	var u *UnsupportedError
	if _, err := Decode(context.Background(), "head.obj", strings.NewReader("\xff\xfev\x00"), nil); !errors.As(err, &u) {
		t.Errorf("UTF-16: got %v", err)
	}
	if _, err := Decode(context.Background(), "head.obj", iotest.ErrReader(errors.New("torn")), nil); err == nil || err.Error() != "head.obj: torn" {
		t.Errorf("read error: got %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Decode(ctx, "head.obj", bytes.NewReader(grid(50)), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
}

func TestNotesSayWhatWasReadOver(t *testing.T) {
	f := decode(t, square+"p 1\nl 1 2\ncurv 0 1 1 2\nmagic 1 2\nmagic 3\nf 1 2 3\n", nil)
	want := []string{"3 points, lines or free-form shapes left out", `2 lines with a keyword that is not read, first "magic" in line 13`}
	if !reflect.DeepEqual(f.Notes, want) {
		t.Errorf("notes %q, want %q", f.Notes, want)
	}
}

func TestReferences(t *testing.T) {
	dir := fstest.MapFS{
		"my set.mtl":             {Data: []byte(someMaterials)},
		"textures/Skin Tone.png": {}, "HAIR.JPG": {}, "bump.png": {}, "other.mtl": {},
	}
	for text, want := range map[string][]string{
		"\ufeffmtllib my set.mtl\n" + square + "mtllib other.mtl \r\n": {"my set.mtl", "other.mtl", "HAIR.JPG", "textures/Skin Tone.png"},
		"# mtllib my set.mtl\ng mtllib\nxmtllib my set.mtl\n":          nil,
		square + "  mtllib \\\n other.mtl":                             {"other.mtl"},
		"mtllib gone.mtl\n":                                            nil,
		"mtllib":                                                       nil,
	} {
		got, err := References(context.Background(), strings.NewReader(text), dir)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q: %q, %v, want %q", text, got, err, want)
		}
	}
}
