package obj

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
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

// scatter returns a mesh of n triangles over random positions of all magnitudes.
func scatter(n int) *mesh.Mesh {
	r := rand.New(rand.NewPCG(9, uint64(n)))
	m := &mesh.Mesh{MaterialSet: []mesh.Material{{Name: "left one"}, {Name: "b"}}}
	for i := range n + 2 {
		var p [3]float32
		for k := range p {
			p[k] = float32(r.NormFloat64() * math.Pow(10, float64(r.IntN(40)-20)))
		}
		m.Pos = append(m.Pos, p)
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
	for _, c := range [][][3]uint8{nil, color} {
		f, err := Decode(context.Background(), "x.obj", bytes.NewReader(encode(t, m, Options{Color: c})), nil)
		if err != nil {
			t.Fatal(err)
		}
		f.Mesh.MaterialSet = m.MaterialSet
		if !reflect.DeepEqual(f.Mesh, m) || !reflect.DeepEqual(f.Color, c) || len(f.Notes) > 0 {
			t.Errorf("the mesh or its colours differ, notes %q", f.Notes)
		}
	}
	if !bytes.Equal(encode(t, m, Options{}), encode(t, m, Options{})) {
		t.Error("two runs differ")
	}
}

func TestEncodeRefuses(t *testing.T) {
	m := scatter(3)
	m.MaterialSet[1].Name = "two\nlines"
	for _, m := range []*mesh.Mesh{{}, m} {
		if err := Encode(&bytes.Buffer{}, m, Options{}); err == nil {
			t.Error("no error")
		}
	}
}

// Files made to be costly: one line, one polygon, as many materials as lines, comb-like polygons.
func TestMemoryIsBoundedByTheFile(t *testing.T) {
	var comb strings.Builder
	for i := range 20000 {
		comb.WriteString("v " + []string{"0 1", "1 0", "2 3", "1 7"}[i%4] + " 0\n")
	}
	for range 3 {
		comb.WriteString("f")
		for i := range 20000 {
			comb.WriteString(" -" + []string{"1", "2", "3", "4", "99"}[i%5])
		}
		comb.WriteString("\n")
	}
	for name, text := range map[string]string{
		"one line":  square + "f 1 2 3 # " + strings.Repeat("x", 4<<20),
		"joined":    square + "f 1 2 3" + strings.Repeat(" \\\n", 1<<20),
		"polygon":   square + "f 1 2 3" + strings.Repeat(" 4", 1<<20) + "\n",
		"materials": square + "f 1 2 3\n" + strings.Repeat("usemtl a\nf 1 2 3\nusemtl b\nf 2 3 4\n", 1<<15),
		"combs":     comb.String(),
		"vertices":  square + strings.Repeat("v 1 2 3\n", 1<<18) + "f 1 2 3\n",
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Decode(context.Background(), "x.obj", strings.NewReader(text), nil)
		runtime.ReadMemStats(&after)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if n := after.TotalAlloc - before.TotalAlloc; n > 2<<20+200*uint64(len(text)) {
			t.Errorf("%s: %d bytes allocated for a file of %d", name, n, len(text))
		}
	}
}

// FuzzDecode feeds any bytes: no panic, a sound mesh or an error, and encoding what was decoded gives
// the same mesh back.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(square + "f 1/1/1 2/2/1 3/3/1 4/4/1\n"))
	f.Add([]byte("usemtl a\nf 1 2 3\n" + square))
	f.Add(encode(f, scatter(6), Options{}))
	f.Fuzz(func(t *testing.T, data []byte) {
		first, err := Decode(context.Background(), "f.obj", bytes.NewReader(data), nil)
		if err != nil {
			return
		}
		if err := first.Mesh.Check(); err != nil {
			t.Fatal(err)
		}
		var w bytes.Buffer
		if err := Encode(&w, first.Mesh, Options{Color: first.Color}); err != nil {
			return // a name that the format cannot hold
		}
		second, err := Decode(context.Background(), "g.obj", &w, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(first.Mesh.Pos, second.Mesh.Pos) || !reflect.DeepEqual(first.Mesh.Tri, second.Mesh.Tri) ||
			!reflect.DeepEqual(first.Mesh.Material, second.Mesh.Material) || !reflect.DeepEqual(first.Mesh.TriUV, second.Mesh.TriUV) ||
			!reflect.DeepEqual(first.Color, second.Color) {
			t.Fatalf("%+v became %+v", first.Mesh, second.Mesh)
		}
	})
}
