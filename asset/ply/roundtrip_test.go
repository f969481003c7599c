package ply

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"mien/asset/mesh"
)

func encode(t testing.TB, m *mesh.Mesh, o Options) []byte {
	t.Helper()
	var w bytes.Buffer
	if err := Encode(&w, m, o); err != nil {
		t.Fatal(err)
	}
	return w.Bytes()
}

// scatter returns a mesh of n triangles over random positions.
func scatter(n int) *mesh.Mesh {
	r := rand.New(rand.NewPCG(9, uint64(n)))
	m := &mesh.Mesh{MaterialSet: []mesh.Material{{Name: "a"}, {Name: "b"}}}
	for i := range n + 2 {
		m.Pos = append(m.Pos, [3]float32{float32(r.NormFloat64()), float32(r.NormFloat64()), float32(r.NormFloat64() * 1e-20)})
		m.UV = append(m.UV, [2]float32{r.Float32(), r.Float32()})
		if i >= 2 {
			m.Tri = append(m.Tri, [3]uint32{uint32(i - 2), uint32(i - 1), uint32(i)})
			m.TriUV = append(m.TriUV, [3]uint32{uint32(r.IntN(i)), uint32(i), uint32(i)})
			m.Material = append(m.Material, uint16(2*i/(n+2)))
		}
	}
	return m
}

func TestDecodeGivesBackWhatEncodeWrote(t *testing.T) {
	m := scatter(20000)
	color := make([][3]uint8, len(m.Pos))
	for i := range color {
		color[i] = [3]uint8{uint8(i), uint8(i >> 8), 255}
	}
	data := encode(t, m, Options{Color: color, Pictures: []string{"a.png", "b.png"}})
	f, err := Decode(context.Background(), "x.ply", bytes.NewReader(data), nil)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(f.Mesh.Pos, m.Pos) || !reflect.DeepEqual(f.Mesh.Tri, m.Tri) || !reflect.DeepEqual(f.Mesh.Material, m.Material) ||
		!reflect.DeepEqual(f.Mesh.MaterialSet, m.MaterialSet) || !reflect.DeepEqual(f.Color, color) || len(f.Notes) > 0 {
		t.Errorf("the mesh or its colours differ, notes %q", f.Notes)
	}
	for i, tri := range f.Mesh.TriUV {
		for k, u := range tri {
			got, want := f.Mesh.UV[u], m.UV[m.TriUV[i][k]]
			if got[0] != want[0] || math.Abs(float64(got[1]-want[1])) > 6e-8 {
				t.Fatalf("triangle %d: texture coordinate %v, want %v", i, got, want)
			}
		}
	}
	if !bytes.Equal(data, encode(t, m, Options{Color: color, Pictures: []string{"a.png", "b.png"}})) {
		t.Error("two runs differ")
	}
	for _, m := range []*mesh.Mesh{{}, {Pos: [][3]float32{{float32(math.NaN()), 0, 0}}}} {
		if err := Encode(&bytes.Buffer{}, m, Options{}); err == nil {
			t.Error("no error")
		}
	}
}

func TestMemoryIsBoundedByTheFile(t *testing.T) {
	const end = "end_header\n"
	for name, text := range map[string]string{
		"counts":   strings.Replace(strings.Replace(head, "vertex 3", "vertex 4000000000", 1), "face 1", "face 9000000000000000000", 1) + three,
		"list":     "ply\nformat binary_little_endian 1.0\n" + vertices + "element face 1\nproperty list uint float other\nproperty list uchar int vertex_indices\n" + end + strings.Repeat("\xff", 1<<16),
		"one row":  head + three + "1000000" + strings.Repeat(" 1 2 0", 300000) + "\n",
		"elements": "ply\nformat ascii 1.0\n" + strings.Repeat("comment TextureFile x\n", 20000) + vertices + faces + end + three + "3 0 1 2\n",
		"empty":    "ply\nformat ascii 1.0\nelement none 9000000000000000000\n" + vertices + faces + end + three + "3 0 1 2\n",
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		Decode(context.Background(), "x.ply", strings.NewReader(text), nil)
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; n > 2<<20+200*uint64(len(text)) {
			t.Errorf("%s: %d bytes allocated for a file of %d", name, n, len(text))
		}
	}
}

// FuzzDecode feeds any bytes: no panic, a sound mesh or an error, and encoding what was decoded gives
// the same surface back.
func FuzzDecode(f *testing.F) {
	f.Add(encode(f, scatter(3), Options{Pictures: []string{"a.png"}}))
	f.Add([]byte(head + three + "3 0 1 2\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		first, err := Decode(context.Background(), "f.ply", bytes.NewReader(data), nil)
		if err != nil {
			return
		}
		if err := first.Mesh.Check(); err != nil {
			t.Fatal(err)
		}
		second, err := Decode(context.Background(), "g.ply", bytes.NewReader(encode(t, first.Mesh, Options{Color: first.Color})), nil)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(first.Mesh.Pos, second.Mesh.Pos) || !reflect.DeepEqual(first.Mesh.Tri, second.Mesh.Tri) ||
			!reflect.DeepEqual(first.Mesh.Material, second.Mesh.Material) || !reflect.DeepEqual(first.Color, second.Color) {
			t.Fatalf("%+v became %+v", first.Mesh, second.Mesh)
		}
	})
}

// BenchmarkDecode reads a made mesh, or the file that MIEN_BENCH_PLY names.
func BenchmarkDecode(b *testing.B) {
	data := encode(b, scatter(200000), Options{})
	if p := os.Getenv("MIEN_BENCH_PLY"); p != "" {
		var err error
		if data, err = os.ReadFile(p); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Decode(context.Background(), "bench.ply", bytes.NewReader(data), nil); err != nil {
			b.Fatal(err)
		}
	}
}
