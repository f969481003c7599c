// Package soup gathers the faces of a file in the order in which they are read, polygons cut into
// triangles, and makes a welded mesh of them.
package soup

import (
	"context"
	"fmt"
	"math"
	"slices"

	"mien/asset/mesh"
)

// NoUV is the texture coordinate index of a corner without any.
const NoUV = math.MaxUint32

// MaxMaterials is the greatest count of materials that a mesh can have.
const MaxMaterials = math.MaxUint16 + 1

// Soup is filled face by face. Its zero value is empty. Positions and texture coordinates are appended
// by the reader of the file; a face may refer to ones that follow later.
type Soup struct {
	Pos   [][3]float32
	UV    [][2]float32
	Color [][3]uint8 // of each position, or nil
	Label []uint8    // region of each position, or nil

	tri   [][3]uint32
	triUV [][3]uint32 // nil while no corner has texture coordinates
	mat   []uint16    // nil while all triangles are of one material
	now   uint16      // the material of faces to come

	faces int64 // that are likely

	cutter mesh.Cutter
	poly   []mesh.Vec
	ahead  []polygon
}

// polygon is one cut as a fan before its positions were known.
type polygon struct{ first, corners int }

// SetMaterial says of which material faces to come are, below [MaxMaterials].
func (s *Soup) SetMaterial(k int) {
	if s.mat == nil && uint16(k) != s.now && len(s.tri) > 0 {
		s.mat = make([]uint16, len(s.tri), 2*len(s.tri))
		for t := range s.mat {
			s.mat[t] = s.now
		}
	}
	s.now = uint16(k)
}

// Read says how many bytes of the file have been read, which bounds the work on odd polygons.
func (s *Soup) Read(n int64) { s.cutter.Work = int(min(1<<24+32*n, math.MaxInt)) }

// Expect says how many triangles there will likely be.
func (s *Soup) Expect(faces int64) { s.faces = faces }

// Triangle adds a face of three corners: positions and texture coordinates, [NoUV] for none.
func (s *Soup) Triangle(p, uv [3]uint32) {
	s.tri = append(RoomOf(s.tri, s.faces), p)
	if uv[0] != NoUV || s.triUV != nil {
		s.corner(uv)
	}
	if s.mat != nil {
		s.mat = append(Room(s.mat), s.now)
	}
}

// Room returns s with room for one more entry. A full slice doubles: the runtime's own growth by a
// quarter would copy a large file's entries five times over.
func Room[T any](s []T) []T {
	if len(s) < cap(s) {
		return s
	}
	return slices.Grow(s, max(len(s), 1024))
}

func (s *Soup) corner(uv [3]uint32) {
	s.fill(len(s.tri) - 1)
	s.triUV = append(RoomOf(s.triUV, s.faces), uv)
}

// fill says that triangles up to n which have no entry yet have no texture coordinates.
func (s *Soup) fill(n int) {
	for len(s.triUV) < n {
		s.triUV = append(Room(s.triUV), [3]uint32{NoUV, NoUV, NoUV})
	}
}

// RoomOf is [Room] for a slice that will likely have total entries, which is believed once an eighth of
// them is there. Growth is by a quarter at least.
func RoomOf[T any](s []T, total int64) []T {
	n := int64(len(s))
	if len(s) < cap(s) || total < n+n/4 || total/8 > n {
		return Room(s)
	}
	return slices.Grow(s, int(total)-len(s))
}

// Triangles adds faces of three corners; uv is as long as p, or nil. The soup may keep both slices.
func (s *Soup) Triangles(p, uv [][3]uint32) {
	n := len(s.tri)
	s.tri = join(s.tri, p)
	if uv != nil {
		s.fill(n)
		s.triUV = join(s.triUV, uv)
	} else if s.triUV != nil {
		s.fill(len(s.tri))
	}
	if s.mat != nil {
		for range p {
			s.mat = append(Room(s.mat), s.now)
		}
	}
}

func join(s, more [][3]uint32) [][3]uint32 {
	if len(s) == 0 {
		return more
	}
	return append(s, more...)
}

// Polygon adds a face of any number of corners, at least three; uv is as long as p.
func (s *Soup) Polygon(p, uv []uint32) {
	first := len(s.tri)
	for k := 1; k+1 < len(p); k++ {
		s.Triangle([3]uint32{p[0], p[k], p[k+1]}, [3]uint32{uv[0], uv[k], uv[k+1]})
	}
	if len(p) == 3 {
		return
	}
	for _, i := range p {
		if int64(i) >= int64(len(s.Pos)) {
			s.ahead = append(s.ahead, polygon{first, len(p)})
			return
		}
	}
	s.cut(first, p, uv)
}

// cut replaces the fan of a polygon from triangle first on by its proper triangles.
func (s *Soup) cut(first int, p, uv []uint32) {
	s.poly = s.poly[:0]
	for _, i := range p {
		q := s.Pos[i]
		s.poly = append(s.poly, mesh.Vec{float64(q[0]), float64(q[1]), float64(q[2])})
	}
	for k, c := range s.cutter.Cut(s.poly) {
		s.tri[first+k] = [3]uint32{p[c[0]], p[c[1]], p[c[2]]}
		if s.triUV != nil {
			s.triUV[first+k] = [3]uint32{uv[c[0]], uv[c[1]], uv[c[2]]}
		}
	}
}

// cutAhead cuts the polygons whose positions came after them.
func (s *Soup) cutAhead(ctx context.Context) error {
	var p, uv []uint32
	for n, g := range s.ahead {
		if n&0xfff == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		p, uv = p[:0], uv[:0]
		for k := range g.corners {
			t, c := max(k-2, 0), min(k, 2)
			p = append(p, s.tri[g.first+t][c])
			u := uint32(NoUV)
			if s.triUV != nil {
				u = s.triUV[g.first+t][c]
			}
			uv = append(uv, u)
		}
		s.cut(g.first, p, uv)
	}
	return nil
}

// JoinUV makes texture coordinates with equal bits one, for files that hold some for each corner.
func (s *Soup) JoinUV(ctx context.Context) error {
	unique, index, err := mesh.WeldUV(ctx, s.UV)
	if err != nil {
		return err
	}
	s.UV = unique
	for t := range s.triUV {
		for k, i := range s.triUV[t] {
			if i != NoUV {
				s.triUV[t][k] = index[i]
			}
		}
	}
	return nil
}

// Surface is what a soup becomes.
type Surface struct {
	Mesh     *mesh.Mesh
	Color    [][3]uint8 // of each position, or nil
	Material []int      // of each of the mesh's materials, the number given to SetMaterial
	Notes    []string
}

// Finish welds the soup, whose indices must be in range: positions with equal bits are one;
// triangles with two corners at one position and positions that no triangle uses are left out. set
// lists the materials. The soup must not be used again. A soup without triangles gives a mesh
// without any.
func (s *Soup) Finish(ctx context.Context, set []mesh.Material) (*Surface, error) {
	if err := s.cutAhead(ctx); err != nil {
		return nil, err
	}
	out := &Surface{}
	note := func(format string, args ...any) { out.Notes = append(out.Notes, fmt.Sprintf(format, args...)) }
	if s.cutter.Fans > 0 {
		note("%d large concave polygons are cut as fans", s.cutter.Fans)
	}
	if s.mat == nil && s.now > 0 {
		set = set[s.now:][:1]
	}
	if s.triUV != nil {
		s.fill(len(s.tri))
	}
	m := &mesh.Mesh{Pos: s.Pos, Tri: s.tri, TriUV: s.triUV, UV: s.UV, Label: s.Label, Material: s.mat, MaterialSet: set}
	dropped, from, err := m.Reduce(ctx)
	if err != nil {
		return nil, err
	}
	if dropped > 0 {
		note("%d triangles with two corners at one position left out", dropped)
	}
	if m.TriUV == nil {
		m.UV = nil
	} else if bare := fillUV(m); bare > 0 {
		note("%d triangles have no texture coordinates", bare)
	}
	out.Mesh, out.Material, out.Color = m, m.ReduceMaterials(), s.Color
	if s.mat == nil && s.now > 0 && len(out.Material) > 0 {
		out.Material[0] = int(s.now)
	}
	if s.Color != nil && from != nil {
		out.Color = make([][3]uint8, len(from))
		for i, k := range from {
			out.Color[i] = s.Color[k]
		}
	}
	return out, nil
}

// fillUV gives triangles with a corner that has no texture coordinate one more at the origin, and
// returns their count.
func fillUV(m *mesh.Mesh) (bare int) {
	none := uint32(len(m.UV))
	for t, c := range m.TriUV {
		if c[0] == NoUV || c[1] == NoUV || c[2] == NoUV {
			m.TriUV[t] = [3]uint32{none, none, none}
			bare++
		}
	}
	if bare > 0 {
		m.UV = append(m.UV, [2]float32{})
	}
	return bare
}
