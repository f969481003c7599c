package gltf

import (
	"bytes"
	"image/color"
	"math"
	"reflect"
	"slices"
	"testing"

	"mien/asset/mesh"
)

// byMaterial returns a copy of m with triangles grouped by material, as files have them.
func byMaterial(m *mesh.Mesh) *mesh.Mesh {
	c := m.Clone()
	order := make([]int, len(m.Tri))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return m.MaterialOf(a) - m.MaterialOf(b) })
	for i, t := range order {
		c.Tri[i] = m.Tri[t]
		if m.TriUV != nil {
			c.TriUV[i] = m.TriUV[t]
		}
		if m.Material != nil {
			c.Material[i] = m.Material[t]
		}
	}
	return c
}

func TestDecodeGivesBackWhatEncodeWrote(t *testing.T) {
	for _, size := range [][2]int{{6, 8}, {40, 60}, {200, 400}} { // 16 and 32 bit indices
		m := globe(0.12, size[0], size[1])
		im := &Image{Name: "base", Mime: "image/png", Data: picture(t, color.White)}
		f := decode(t, encode(t, m, Options{Images: []*Image{im, nil}}))
		want := byMaterial(m)
		if !reflect.DeepEqual(f.Mesh.Pos, want.Pos) || !reflect.DeepEqual(f.Mesh.Tri, want.Tri) {
			t.Fatalf("%v: positions or triangles differ", size)
		}
		if !reflect.DeepEqual(f.Mesh.Label, want.Label) || !reflect.DeepEqual(f.Mesh.MaterialSet, want.MaterialSet) || !reflect.DeepEqual(f.Mesh.Material, want.Material) {
			t.Errorf("%v: labels or materials differ", size)
		}
		for i, tri := range f.Mesh.TriUV {
			for k := range tri {
				if f.Mesh.UV[tri[k]] != want.UV[want.TriUV[i][k]] {
					t.Fatalf("%v: triangle %d: texture coordinate %v, want %v", size, i, f.Mesh.UV[tri[k]], want.UV[want.TriUV[i][k]])
				}
			}
		}
		if f.Images[0] == nil || !bytes.Equal(f.Images[0].Data, im.Data) || f.Images[0].Mime != "image/png" || f.Images[1] != nil {
			t.Errorf("%v: pictures differ", size)
		}
		if len(f.Notes) != 0 {
			t.Errorf("%v: notes %q", size, f.Notes)
		}
		if err := f.Mesh.Check(); err != nil {
			t.Error(err)
		}
	}
}

// A closed sphere stays closed and keeps its volume although the file splits it at the seam.
func TestSeamIsNoBoundary(t *testing.T) {
	f := decode(t, encode(t, globe(1, 64, 96), Options{}))
	for i, b := range f.Mesh.BoundaryVertices() {
		if b {
			t.Fatalf("vertex %d lies on a boundary", i)
		}
	}
	if v := f.Mesh.Volume(); math.Abs(v-4*math.Pi/3) > 0.01 {
		t.Errorf("volume %v, want %v", v, 4*math.Pi/3)
	}
}

func TestEncodeIsDeterministic(t *testing.T) {
	m := globe(0.1, 20, 30)
	o := Options{Images: []*Image{{Data: picture(t, color.Black)}, {Data: picture(t, color.White)}}}
	if !bytes.Equal(encode(t, m, o), encode(t, m, o)) {
		t.Error("two runs differ")
	}
}

func TestEncodeRefusesWhatIsNoMesh(t *testing.T) {
	nan := globe(1, 4, 4)
	nan.Pos[3][1] = float32(math.NaN())
	for _, m := range []*mesh.Mesh{{}, nan} {
		if err := Encode(&bytes.Buffer{}, m, Options{}); err == nil {
			t.Error("no error")
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	data := encode(b, globe(0.9, 500, 500), Options{})
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		decode(b, data)
	}
}

func BenchmarkEncode(b *testing.B) {
	m := globe(0.9, 500, 500)
	for b.Loop() {
		encode(b, m, Options{})
	}
}
