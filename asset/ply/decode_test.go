package ply

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"
	"testing/iotest"

	"mien/asset/mesh"
	"mien/asset/terms"
)

func decode(t *testing.T, data []byte, dir fstest.MapFS) *File {
	t.Helper()
	f, err := Decode(context.Background(), "head.ply", bytes.NewReader(data), dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Mesh.Check(); err != nil {
		t.Fatal(err)
	}
	g, err := Decode(context.Background(), "head.ply", iotest.OneByteReader(bytes.NewReader(data)), dir)
	if err != nil || !reflect.DeepEqual(f, g) {
		t.Fatalf("read byte by byte: another result, %v", err)
	}
	return f
}

// rows is a file's data, written as text or as binary of either order.
type rows struct {
	header string
	values []any // numbers of the types that the header says; "\n" ends a row
}

func (r rows) in(format string) []byte {
	var b bytes.Buffer
	b.WriteString("ply\nformat " + format + " 1.0\n" + r.header + "end_header\n")
	var order binary.ByteOrder = binary.LittleEndian
	if format == "binary_big_endian" {
		order = binary.BigEndian
	}
	for _, v := range r.values {
		switch {
		case format != "ascii" && v == "\n":
		case format != "ascii":
			binary.Write(&b, order, v)
		case v == "\n":
			b.WriteString("\n")
		default:
			b.WriteString(strings.Trim(fmt.Sprint(v), "[]") + " ")
		}
	}
	return b.Bytes()
}

var formats = []string{"ascii", "binary_little_endian", "binary_big_endian"}

// Every type of number, lists and properties of no meaning between the others, elements in any order.
func TestTypesAndOrders(t *testing.T) {
	plain := rows{"element vertex 4\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\n",
		[]any{float32(0), float32(0), float32(0), "\n", float32(1), float32(0), float32(0), "\n", float32(1), float32(1), float32(0.1), "\n", float32(0), float32(1), float32(0), "\n",
			uint8(4), int32(0), int32(1), int32(2), int32(3), "\n"}}
	odd := rows{"comment made by hand\nobj_info none\nelement camera 2\nproperty list ushort double matrix\nproperty char n\n" +
		"element face 3\nproperty uchar flags\nproperty list uint ushort vertex_index\nproperty list char float quality\n" +
		"element vertex 4\nproperty list uchar short ring\nproperty double y\nproperty float32 quality\nproperty int16 x\nproperty double z\nelement edge 1\nproperty int a\n",
		[]any{uint16(2), 1.5, -2.5, int8(-1), "\n", uint16(0), int8(5), "\n",
			uint8(1), uint32(3), uint16(0), uint16(1), uint16(2), int8(0), "\n",
			uint8(1), uint32(2), uint16(0), uint16(1), int8(1), float32(3), "\n",
			uint8(0), uint32(3), uint16(0), uint16(2), uint16(3), int8(2), float32(1), float32(2), "\n",
			uint8(1), int16(7), 0.0, float32(1), int16(0), 0.0, "\n", uint8(0), 0.0, float32(1), int16(1), 0.0, "\n",
			uint8(0), 1.0, float32(1), int16(1), 0.1, "\n", uint8(2), int16(1), int16(2), 1.0, float32(1), int16(0), 0.0, "\n", int32(1), "\n"}}
	for _, format := range formats {
		for i, r := range []rows{plain, odd} {
			f := decode(t, r.in(format), nil)
			if !reflect.DeepEqual(f.Mesh.Tri, [][3]uint32{{0, 1, 2}, {0, 2, 3}}) || !reflect.DeepEqual(f.Mesh.Pos, [][3]float32{{0, 0, 0}, {1, 0, 0}, {1, 1, 0.1}, {0, 1, 0}}) {
				t.Errorf("%s: %v of %v", format, f.Mesh.Tri, f.Mesh.Pos)
			}
			if f.Mesh.TriUV != nil || f.Color != nil || len(f.Pictures) != 1 || len(f.Notes) != i {
				t.Errorf("%s: coordinates, colours %v, pictures %q or notes %q", format, f.Color, f.Pictures, f.Notes)
			}
		}
	}
}

func TestColoursAndCoordinates(t *testing.T) {
	dir := fstest.MapFS{"Skin one.png": {}, "maps/hair.png": {}}
	corner := rows{"comment TextureFile skin ONE.png\ncomment TextureFile C:\\maps\\hair.png\ncomment TextureFile gone.png\n" +
		"element vertex 3\nproperty float x\nproperty float y\nproperty float z\nproperty uchar red\nproperty uchar green\nproperty uchar blue\nproperty uchar alpha\n" +
		"element face 4\nproperty list uchar uint vertex_indices\nproperty list uchar float texcoord\nproperty int texnumber\n",
		[]any{float32(0), float32(0), float32(0), uint8(1), uint8(2), uint8(3), uint8(255), "\n", float32(1), float32(0), float32(0), uint8(4), uint8(5), uint8(6), uint8(255), "\n",
			float32(0), float32(1), float32(0), uint8(7), uint8(8), uint8(9), uint8(255), "\n",
			uint8(3), uint32(0), uint32(1), uint32(2), uint8(6), float32(0), float32(0), float32(1), float32(0), float32(0), float32(.75), int32(0), "\n",
			uint8(3), uint32(2), uint32(1), uint32(0), uint8(6), float32(0), float32(.75), float32(1), float32(0), float32(0), float32(0), int32(1), "\n",
			uint8(3), uint32(0), uint32(2), uint32(1), uint8(2), float32(0), float32(0), int32(2), "\n",
			uint8(3), uint32(0), uint32(2), uint32(1), uint8(0), int32(-1), "\n"}}
	for _, format := range formats {
		f := decode(t, corner.in(format), dir)
		if !reflect.DeepEqual(f.Color, [][3]uint8{{1, 2, 3}, {4, 5, 6}, {7, 8, 9}}) {
			t.Errorf("%s: colours %v", format, f.Color)
		}
		m := f.Mesh
		if !reflect.DeepEqual(m.UV, [][2]float32{{0, 1}, {1, 1}, {0, .25}, {0, 0}}) || !reflect.DeepEqual(m.TriUV, [][3]uint32{{0, 1, 2}, {2, 1, 0}, {3, 3, 3}, {3, 3, 3}}) {
			t.Errorf("%s: coordinates %v of %v", format, m.TriUV, m.UV)
		}
		want := []mesh.Material{{Name: "skin ONE"}, {Name: "hair", Class: uint8(terms.HairClass)}, {Name: "gone"}, {}}
		if !reflect.DeepEqual(m.Material, []uint16{0, 1, 2, 3}) || !reflect.DeepEqual(m.MaterialSet, want) {
			t.Errorf("%s: materials %v of %v", format, m.Material, m.MaterialSet)
		}
		if !reflect.DeepEqual(f.Pictures, []string{"Skin one.png", "", "", ""}) || !reflect.DeepEqual(f.Lost, []string{`C:\maps\hair.png`, "gone.png"}) {
			t.Errorf("%s: pictures %q, lost %q", format, f.Pictures, f.Lost)
		}
		if n := strings.Join(f.Notes, "; "); n != "1 faces have texture coordinates that do not fit their corners; 2 triangles have no texture coordinates" {
			t.Errorf("%s: notes %q", format, n)
		}
	}
	vertex := rows{"element face 1\nproperty list uchar int vertex_indices\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nproperty double u\nproperty float v\n" +
		"property float red\nproperty float green\nproperty float blue\n",
		[]any{uint8(3), int32(2), int32(1), int32(0), "\n", float32(0), float32(0), float32(0), .5, float32(1), float32(0), float32(.5), float32(2), "\n",
			float32(1), float32(0), float32(0), .25, float32(0), float32(1), float32(-1), float32(0), "\n", float32(0), float32(1), float32(0), .5, float32(.5), float32(0), float32(0), float32(0), "\n"}}
	for _, format := range formats {
		f := decode(t, vertex.in(format), nil)
		if !reflect.DeepEqual(f.Mesh.UV, [][2]float32{{.5, 0}, {.25, 1}, {.5, .5}}) || !reflect.DeepEqual(f.Mesh.TriUV, [][3]uint32{{2, 1, 0}}) ||
			!reflect.DeepEqual(f.Color, [][3]uint8{{0, 128, 255}, {255, 0, 0}, {0, 0, 0}}) {
			t.Errorf("%s: coordinates %v of %v, colours %v", format, f.Mesh.TriUV, f.Mesh.UV, f.Color)
		}
	}
}

func TestStrips(t *testing.T) {
	r := rows{"element vertex 5\nproperty float x\nproperty float y\nproperty float z\nelement tristrips 1\nproperty list int int vertex_indices\n",
		[]any{float32(0), float32(0), float32(0), "\n", float32(1), float32(0), float32(0), "\n", float32(0), float32(1), float32(0), "\n", float32(1), float32(1), float32(0), "\n",
			float32(0), float32(2), float32(0), "\n", int32(9), int32(0), int32(1), int32(2), int32(3), int32(4), int32(-1), int32(4), int32(3), int32(0), "\n"}}
	for _, format := range formats {
		f := decode(t, r.in(format), nil)
		if want := [][3]uint32{{0, 1, 2}, {2, 1, 3}, {2, 3, 4}, {4, 3, 0}}; !reflect.DeepEqual(f.Mesh.Tri, want) {
			t.Errorf("%s: %v, want %v", format, f.Mesh.Tri, want)
		}
		for k := range 3 {
			if n := f.Mesh.FaceNormal(k); n[2] != 1 {
				t.Errorf("triangle %d faces %v", k, n)
			}
		}
	}
}

const (
	vertices = "element vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
	faces    = "element face 1\nproperty list uchar int vertex_indices\n"
	head     = "ply\nformat ascii 1.0\n" + vertices + faces + "end_header\n"
	three    = "0 0 0\n1 0 0\n0 1 0\n"
)

// Every file breaks one rule; the error says which and where.
func TestBrokenFiles(t *testing.T) {
	little := string(rows{vertices + faces, []any{[9]float32{3: 1, 7: 1}, uint8(3), [3]int32{0, 1, 2}}}.in("binary_little_endian"))
	edit := func(s, from, to string) string { return strings.Replace(s, from, to, 1) }
	begin := strings.Index(little, "end_header\n") + len("end_header\n")
	nan := []byte(little)
	binary.LittleEndian.PutUint32(nan[begin+16:], math.Float32bits(float32(math.NaN())))
	for text, want := range map[string]string{
		"":                                                  `head.ply:1: does not begin with the word "ply"`,
		"plywood\n":                                         `head.ply:1: does not begin`,
		"ply\nformat ascii 1.0\n":                           "head.ply:3: the header does not end, the file has 21 bytes",
		"ply\nend_header\n":                                 `head.ply:2: no line "format"`,
		"ply\nformat latin 1.0\n":                           `head.ply:2: format "latin", allowed are ascii`,
		"ply\nproperty int x\n":                             "head.ply:2: property before any element",
		"ply\nelement face -1\n":                            `head.ply:2: element "face": count "-1"`,
		"ply\nelement a 1\nelement a 1\n":                   `head.ply:3: element "a" stands twice`,
		"ply\nelement a 1\nproperty word w":                 "the header does not end",
		"ply\nelement a 1\nproperty word w\n":               `head.ply:3: property "w": type "word" is unknown`,
		"ply\nelement a 1\nproperty list float int w\n":     `count of type "float"`,
		"ply\nmagic\n":                                      `head.ply:2: header line begins with "magic"`,
		edit(head, "property float y\n", ""):                "head.ply: element vertex has no property y",
		head + "0 0 0\n1 0\n":                               "head.ply:11: vertex 1 of 3: z is missing",
		head + "0 0 0\n1 0 nan\n":                           `head.ply:11: vertex 1 of 3: z is "nan", allowed are finite numbers`,
		head + "0 0 0\n1 0 1e99\n":                          `z is "1e99", beyond the range of numbers`,
		head + "0 0 0\n1 0 0 7\n":                           `head.ply:11: vertex 1 of 3: vertex: "7" follows the last value`,
		head + three:                                        "head.ply:13: face 0 of 1: the file ends",
		head + three + "3 0 1 3\n":                          "head.ply:13: face 0 of 1: vertex index 3 out of range 0 to 2",
		head + three + "3 0 1 -1\n":                         "vertex index -1 out of range 0 to 2",
		head + three + "3 0 1\n":                            "head.ply:13: face 0 of 1: vertex_indices is missing",
		head + three + "-3 0 1 2\n":                         "vertex_indices has -3 entries",
		head + three + "3 0 1 1.5\n":                        "vertex_indices is 1.5, allowed are whole numbers",
		head + three + "2 0 1\n":                            "head.ply: no triangles over 3 vertices",
		edit(head, faces, "") + three:                       "head.ply: no triangles over 3 vertices",
		edit(head, "vertex 3", "vertex 4000000000") + three: "vertex 3 of 4000000000: the file ends",
		edit(little, "vertex 3", "vertex 4000000000"):       "vertex 4 of 4000000000: vertex: the file ends after 1 of 12 bytes",
		edit(little, "face 1", "face 4000000000"):           "face 1 of 4000000000: vertex_indices: the file ends after 0 of 1 bytes",
		edit(little[:begin+36], "uchar int", "uint int") + "\xff\xff\xff\xff\x00": "face 0 of 1: vertex_indices: the file ends after 1 of 4 bytes",
		little[:len(little)-2]: "face 0 of 1: vertex_indices: the file ends after 2 of 4 bytes",
		string(nan):            "vertex 1 of 3: y is NaN, allowed are finite numbers",
		little[:len(little)-4] + "\x03\x00\x00\x00": "vertex index 3 out of range 0 to 2",
	} {
		_, err := Decode(context.Background(), "head.ply", strings.NewReader(text), nil)
		var f *FormatError
		if !errors.As(err, &f) || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want a format error with %q", text, err, want)
		}
	}
	_, err := Decode(context.Background(), "head.ply", bytes.NewReader(nan), nil)
	var f *FormatError
	if !errors.As(err, &f) || f.Byte != int64(begin+16) {
		t.Errorf("NaN: %v, want byte %d", err, begin+16)
	}
	for want, text := range map[string]string{
		`head.ply: unsupported: vertex property "x" is a list`:                                      edit(head, "float x", "list uchar float x"),
		`head.ply: unsupported: format version "2.0", read is 1.0`:                                  edit(head, "1.0", "2.0"),
		`head.ply: unsupported: element "face" has no property vertex_indices or vertex_index`:      edit(head, "vertex_indices", "corners") + three,
		`head.ply: unsupported: face property "vertex_indices" is no list`:                          edit(head, "list uchar int", "int") + three,
		`head.ply: unsupported: header of more than 1048576 bytes or with lines of more than 65536`: "ply\ncomment " + strings.Repeat("x", 1<<17) + "\n",
	} {
		_, err := Decode(context.Background(), "head.ply", strings.NewReader(text), nil)
		var u *UnsupportedError
		if !errors.As(err, &u) || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}

func TestTextAsPeopleWriteIt(t *testing.T) {
	s := strings.ReplaceAll(head+"\n"+three+"\n 3\t0  1 2 \n\n", "\n", "\r\n")
	if f := decode(t, []byte(s), nil); len(f.Mesh.Tri) != 1 {
		t.Errorf("%d triangles", len(f.Mesh.Tri))
	}
	if f := decode(t, []byte(strings.TrimSuffix(head+three+"3 0 1 2\n", "\n")), nil); len(f.Mesh.Tri) != 1 {
		t.Errorf("%d triangles", len(f.Mesh.Tri))
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Decode(ctx, "x.ply", strings.NewReader(head+three), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
}

func TestReferences(t *testing.T) {
	dir := fstest.MapFS{"Skin one.png": {}, "hair.png": {}}
	text := "ply\nformat ascii 1.0\ncomment TextureFile skin one.png\ncomment TextureFile gone.png\ncomment texturefile C:\\x\\hair.png\ncomment TextureFile hair.png\n"
	if got := References(strings.NewReader(text+"end_header\n"), dir); !reflect.DeepEqual(got, []string{"Skin one.png", "hair.png"}) {
		t.Errorf("got %q", got)
	}
	if got := References(strings.NewReader(text), dir); got != nil {
		t.Errorf("broken header: %q", got)
	}
}
