package soup

import (
	"context"
	"reflect"
	"testing"

	"mien/asset/mesh"
)

// corners of a unit square, one of them twice
func square() Soup {
	return Soup{Pos: [][3]float32{{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {1, 0, 0}}, UV: [][2]float32{{0, 0}, {1, 0}}}
}

var none = [3]uint32{NoUV, NoUV, NoUV}

func TestMaterialsAndCoordinatesThatComeLate(t *testing.T) {
	set := []mesh.Material{{Name: "a"}, {Name: "b"}, {Name: "c"}}
	for _, bulk := range []bool{false, true} {
		s := square()
		add := func(p, uv [3]uint32) {
			switch {
			case !bulk:
				s.Triangle(p, uv)
			case uv == none:
				s.Triangles([][3]uint32{p}, nil)
			default:
				s.Triangles([][3]uint32{p}, [][3]uint32{uv})
			}
		}
		s.SetMaterial(2)
		add([3]uint32{0, 1, 2}, none)
		s.SetMaterial(0)
		add([3]uint32{0, 1, 4}, [3]uint32{1, 1, 1})
		add([3]uint32{0, 4, 2}, [3]uint32{0, 1, 0})
		add([3]uint32{0, 2, 3}, none)
		out, err := s.Finish(context.Background(), set)
		if err != nil {
			t.Fatal(err)
		}
		m := out.Mesh
		if err := m.Check(); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(m.Tri, [][3]uint32{{0, 1, 2}, {0, 1, 2}, {0, 2, 3}}) || !reflect.DeepEqual(m.TriUV, [][3]uint32{{2, 2, 2}, {0, 1, 0}, {2, 2, 2}}) {
			t.Errorf("triangles %v, coordinates %v", m.Tri, m.TriUV)
		}
		if !reflect.DeepEqual(m.Material, []uint16{1, 0, 0}) || !reflect.DeepEqual(out.Material, []int{0, 2}) || m.MaterialSet[1].Name != "c" {
			t.Errorf("materials %v of %v, numbers %v", m.Material, m.MaterialSet, out.Material)
		}
		if want := []string{"1 triangles with two corners at one position left out", "2 triangles have no texture coordinates"}; !reflect.DeepEqual(out.Notes, want) {
			t.Errorf("notes %q", out.Notes)
		}
	}
}

func TestOneMaterialKeepsItsNumber(t *testing.T) {
	s := square()
	s.SetMaterial(1)
	s.Polygon([]uint32{0, 1, 2, 3}, []uint32{NoUV, NoUV, NoUV, NoUV})
	out, err := s.Finish(context.Background(), []mesh.Material{{Name: "a"}, {Name: "b"}})
	if err != nil || !reflect.DeepEqual(out.Material, []int{1}) || out.Mesh.Material != nil || out.Mesh.MaterialSet[0].Name != "b" || out.Mesh.UV != nil {
		t.Errorf("%+v, %v", out, err)
	}
}

func TestAFalseCountCostsLittle(t *testing.T) {
	s := square()
	s.Expect(1 << 62)
	for range 5000 {
		s.Triangle([3]uint32{0, 1, 2}, none)
	}
	if cap(s.tri) > 20000 {
		t.Errorf("room for %d triangles", cap(s.tri))
	}
	s.Expect(9000)
	for range 4000 {
		s.Triangle([3]uint32{0, 1, 2}, none)
	}
	if cap(s.tri) > 20000 {
		t.Errorf("room for %d triangles", cap(s.tri))
	}
}
