package mesh

import (
	"context"
	"math/rand/v2"
	"reflect"
	"testing"
)

// Weld against a map, on positions of which many are equal.
func TestWeldAgainstMap(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, n := range []int{0, 1, 2, 17, 1000, 50000} {
		for _, values := range []int{2, 10, 1 << 20} {
			in := make([][3]float32, n)
			for i := range in {
				for k := range in[i] {
					in[i][k] = float32(r.IntN(values)-values/2) / 64
				}
			}
			keep := append([][3]float32(nil), in...)
			seen, want := map[[3]float32]uint32{}, [][3]float32{}
			u, idx, err := Weld(context.Background(), in)
			if err != nil {
				t.Fatal(err)
			}
			for i, p := range keep {
				j, ok := seen[p]
				if !ok {
					j = uint32(len(want))
					seen[p], want = j, append(want, p)
				}
				if idx[i] != j || u[j] != p || in[i] != p {
					t.Fatalf("%d of %d: index %d, want %d", i, n, idx[i], j)
				}
			}
			if len(u) != len(want) {
				t.Fatalf("%d unique, want %d", len(u), len(want))
			}
		}
	}
}

// A slot holds a part of the hash only: among a million positions that differ in one number, hundreds meet
// another's.
func TestWeldKeepsWhatDiffersInOneNumber(t *testing.T) {
	for k := range 3 {
		in := make([][3]float32, 1<<20)
		for i := range in {
			in[i][k] = float32(i)
		}
		if u, _, err := Weld(context.Background(), in); err != nil || len(u) != len(in) {
			t.Errorf("number %d: %d of %d are left, %v", k, len(u), len(in), err)
		}
	}
}

func TestReduce(t *testing.T) {
	m := &Mesh{
		Pos:         [][3]float32{{9, 9, 9}, {0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 0, 0}, {0, 0, 1}},
		Tri:         [][3]uint32{{1, 2, 4}, {1, 2, 3}, {1, 5, 4}},
		UV:          make([][2]float32, 3),
		TriUV:       [][3]uint32{{0, 0, 0}, {1, 1, 1}, {2, 2, 2}},
		Label:       []uint8{7, 0, 0, 3, 5, 6},
		Material:    []uint16{0, 2, 2},
		MaterialSet: []Material{{Name: "a"}, {Name: "b"}, {Name: "c"}},
	}
	dropped, from, err := m.Reduce(context.Background())
	if err != nil || dropped != 1 || !reflect.DeepEqual(from, []uint32{1, 2, 3, 5}) {
		t.Fatalf("dropped %d, from %v, %v", dropped, from, err)
	}
	if !reflect.DeepEqual(m.Tri, [][3]uint32{{0, 1, 2}, {0, 3, 1}}) || !reflect.DeepEqual(m.Label, []uint8{0, 5, 3, 6}) || m.TriUV[1][0] != 2 {
		t.Errorf("triangles %v, labels %v, coordinates %v", m.Tri, m.Label, m.TriUV)
	}
	if from := m.ReduceMaterials(); !reflect.DeepEqual(from, []int{2}) || m.Material != nil || m.MaterialSet[0].Name != "c" {
		t.Errorf("materials %v, %v, %v", from, m.Material, m.MaterialSet)
	}
	if err := m.Check(); err != nil {
		t.Error(err)
	}
}

func BenchmarkWeld(b *testing.B) {
	in := make([][3]float32, 1e6)
	for i := range in {
		in[i] = [3]float32{float32(i % 1000), float32(i / 1000), float32(i)}
	}
	for b.Loop() {
		Weld(context.Background(), in)
	}
}
