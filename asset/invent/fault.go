package invent

import (
	"encoding/binary"
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// Fault is something that goes wrong between rig and drive.
type Fault string

// Faults.
const (
	Centimetres  Fault = "centimetres"   // positions in cm
	Millimetres  Fault = "millimetres"   // positions in mm
	Inches       Fault = "inches"        // positions in inches
	Mirrored     Fault = "mirrored"      // left and right exchanged
	ZUp          Fault = "z-up"          // axes exchanged: +Z up, the front along -Y
	FacingBack   Fault = "facing-back"   // turned by half a turn about +Y
	FlippedV     Fault = "flipped-v"     // picture upside down against the texture coordinates
	ScaleDrift   Fault = "scale-drift"   // 0.6 percent too large
	Hole         Fault = "hole"          // a gap of 6 cm
	Membranes    Fault = "membranes"     // scalp or soles missing and closed by flat sheets
	Floor        Fault = "floor"         // a piece of floor and a stand came along
	FusedFingers Fault = "fused-fingers" // fingers grown together
	NoTexture    Fault = "no-texture"    // base colour missing
	NotANumber   Fault = "not-a-number"  // one coordinate is NaN
	Truncated    Fault = "truncated"     // the file ends early
	Twice        Fault = "twice"         // the file lies there twice
	LeftOut      Fault = "left-out"      // the pose was not shot
)

// Faults returns all faults in table order.
func Faults() []Fault {
	return []Fault{Centimetres, Millimetres, Inches, Mirrored, ZUp, FacingBack, FlippedV, ScaleDrift, Hole, Membranes, Floor,
		FusedFingers, NoTexture, NotANumber, Truncated, Twice, LeftOut}
}

// bend returns the mesh with a fault of shape; other faults return it as it is. s is the surface that
// m was made from.
func (f Fault) bend(p Person, m *mesh.Mesh, s *Surface) *mesh.Mesh {
	scaled := func(k float64) *mesh.Mesh {
		return mapped(m, [16]float64{k, 0, 0, 0, 0, k, 0, 0, 0, 0, k, 0, 0, 0, 0, 1})
	}
	switch f {
	case Centimetres:
		return scaled(100)
	case Millimetres:
		return scaled(1000)
	case Inches:
		return scaled(1 / 0.0254)
	case ScaleDrift:
		return scaled(1.006)
	case Mirrored:
		return mapped(m, [16]float64{-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1})
	case ZUp:
		return mapped(m, [16]float64{1, 0, 0, 0, 0, 0, 1, 0, 0, -1, 0, 0, 0, 0, 0, 1})
	case FacingBack:
		return mapped(m, [16]float64{-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1})
	case Hole:
		return torn(p, m, s)
	case Membranes:
		return sheeted(p, m, s)
	case Floor:
		return standing(m)
	case FusedFingers:
		return fused(p, m, s)
	}
	return m
}

func mapped(m *mesh.Mesh, a [16]float64) *mesh.Mesh {
	out := m.Clone()
	out.Transform(a)
	return out
}

// torn leaves out the triangles within 3 cm of a place: the chest of a body, a cheek of a head, else
// the middle of the surface.
func torn(p Person, m *mesh.Mesh, s *Surface) *mesh.Mesh {
	centre := p.Place(terms.Chest, 5, 4).CentreM
	if !anyNear(s, centre) {
		centre = p.Place(terms.CheekLeft, 0, 0).CentreM
	}
	if !anyNear(s, centre) {
		centre = vec3(s.Anchor[len(s.Anchor)/2])
	}
	return without(m, func(t int) bool {
		return vec3(s.Anchor[m.Tri[t][0]]).Sub(centre).Len() < 0.03
	})
}

func anyNear(s *Surface, at mesh.Vec) bool {
	for _, a := range s.Anchor {
		if vec3(a).Sub(at).Len() < 0.01 {
			return true
		}
	}
	return false
}

// sheeted takes off the top of the scalp, or the soles of a scan without a head's detail, and closes
// what is open there by flat sheets.
func sheeted(p Person, m *mesh.Mesh, s *Surface) *mesh.Mesh {
	g := &p.base.plan
	top := g.head.point(mesh.Vec{0, 212, 0})[1] / 1000
	gone := make([]bool, len(m.Tri))
	for t, tri := range m.Tri {
		a := s.Anchor[tri[0]]
		gone[t] = float64(a[1]) > top || a[1] < 0.012 && s.AnchorNormal[tri[0]][1] < -0.5
	}
	across := acrossEdges(m)
	for smoothed := false; !smoothed; {
		// Where two edges of the cut touch at a point, the triangles around it go too: every loop
		// of the boundary is then a simple one.
		rims := make([]uint8, len(m.Pos))
		for t, tri := range m.Tri {
			for k, o := range across[t] {
				if !gone[t] && (o < 0 || gone[o]) {
					rims[tri[k]]++
				}
			}
		}
		smoothed = true
		for t, tri := range m.Tri {
			if !gone[t] && (rims[tri[0]] > 1 || rims[tri[1]] > 1 || rims[tri[2]] > 1) {
				gone[t], smoothed = true, false
			}
		}
	}
	out := without(m, func(t int) bool { return gone[t] })
	return closed(out, len(m.Tri)-len(out.Tri))
}

// closed fans a sheet over every boundary loop of m, except when nothing was cut.
func closed(m *mesh.Mesh, cut int) *mesh.Mesh {
	if cut == 0 {
		return m
	}
	next := make([]int64, len(m.Pos)) // the boundary's next position + 1, in the direction of a sheet
	for t, n := range acrossEdges(m) {
		for k := range n {
			if n[k] < 0 {
				next[m.Tri[t][(k+1)%3]] = int64(m.Tri[t][k]) + 1
			}
		}
	}
	cornerUV := make([]uint32, len(m.Pos))
	for t, tri := range m.TriUV {
		for k := range tri {
			cornerUV[m.Tri[t][k]] = tri[k]
		}
	}
	for first := range next {
		var loop []uint32
		for v := uint32(first); next[v] != 0; {
			loop = append(loop, v)
			v, next[v] = uint32(next[v]-1), 0
		}
		if len(loop) < 3 {
			continue
		}
		var middle mesh.Vec
		for _, v := range loop {
			middle = middle.Add(m.At(v).Scale(1 / float64(len(loop))))
		}
		hub := uint32(len(m.Pos))
		m.Pos = append(m.Pos, single(middle))
		if m.Label != nil {
			m.Label = append(m.Label, m.Label[loop[0]])
		}
		for i, v := range loop {
			w := loop[(i+1)%len(loop)]
			m.Tri = append(m.Tri, [3]uint32{v, w, hub})
			if m.TriUV != nil {
				m.TriUV = append(m.TriUV, [3]uint32{cornerUV[v], cornerUV[w], cornerUV[loop[0]]})
			}
			if m.Material != nil {
				m.Material = append(m.Material, 0)
			}
		}
	}
	return m
}

// without returns m without the triangles that gone names and without positions that only they used.
func without(m *mesh.Mesh, gone func(t int) bool) *mesh.Mesh {
	out := &mesh.Mesh{UV: append([][2]float32(nil), m.UV...), MaterialSet: m.MaterialSet}
	index := make([]uint32, len(m.Pos))
	for t, tri := range m.Tri {
		if gone(t) {
			continue
		}
		var kept [3]uint32
		for k, v := range tri {
			if index[v] == 0 {
				out.Pos = append(out.Pos, m.Pos[v])
				index[v] = uint32(len(out.Pos))
				if m.Label != nil {
					out.Label = append(out.Label, m.Label[v])
				}
			}
			kept[k] = index[v] - 1
		}
		out.Tri = append(out.Tri, kept)
		if m.TriUV != nil {
			out.TriUV = append(out.TriUV, m.TriUV[t])
		}
		if m.Material != nil {
			out.Material = append(out.Material, m.Material[t])
		}
	}
	return out
}

// standing adds a disk of floor of 1.2 m below the lowest point and a stand of 4 cm beside the person.
func standing(m *mesh.Mesh) *mesh.Mesh {
	out := m.Clone()
	lo, hi, ok := out.Bounds()
	if !ok {
		return out
	}
	if out.Material == nil {
		out.Material = make([]uint16, len(out.Tri))
		if len(out.MaterialSet) == 0 {
			out.MaterialSet = []mesh.Material{{Name: "skin", Class: uint8(terms.Skin)}}
		}
	}
	material := uint16(len(out.MaterialSet))
	out.MaterialSet = append(out.MaterialSet, mesh.Material{Name: "floor stand", Class: uint8(terms.Stand)})
	uv := uint32(len(out.UV))
	if out.TriUV != nil {
		out.UV = append(out.UV, [2]float32{0.999, 0.999})
	}
	add := func(a, b, c uint32) {
		out.Tri = append(out.Tri, [3]uint32{a, b, c})
		out.Material = append(out.Material, material)
		if out.TriUV != nil {
			out.TriUV = append(out.TriUV, [3]uint32{uv, uv, uv})
		}
	}
	point := func(x, y, z float64) uint32 {
		out.Pos = append(out.Pos, single(mesh.Vec{x, y, z}))
		if out.Label != nil {
			out.Label = append(out.Label, uint8(terms.NoRegion))
		}
		return uint32(len(out.Pos) - 1)
	}
	cx, cz, y := (lo[0]+hi[0])/2, (lo[2]+hi[2])/2, lo[1]-0.002
	const sides = 48
	ring := func(x, z, radius, y float64) (first uint32) {
		for i := 0; i < sides; i++ {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
			v := point(x+radius*cos, y, z-radius*sin)
			if i == 0 {
				first = v
			}
		}
		return first
	}
	fan := func(hub, first uint32) {
		for i := uint32(0); i < sides; i++ {
			add(hub, first+i, first+(i+1)%sides)
		}
	}
	fan(point(cx, y, cz), ring(cx, cz, 0.6, y))
	sx := hi[0] + 0.12
	low, high := ring(sx, cz, 0.02, y+0.001), ring(sx, cz, 0.02, y+0.6*(hi[1]-lo[1]))
	for i := uint32(0); i < sides; i++ {
		j := (i + 1) % sides
		add(low+i, low+j, high+j)
		add(low+i, high+j, high+i)
	}
	fan(point(sx, y+0.6*(hi[1]-lo[1]), cz), high)
	return out
}

// fused swells the sides of the fingers until they meet.
func fused(p Person, m *mesh.Mesh, s *Surface) *mesh.Mesh {
	g := &p.base.plan
	out := m.Clone()
	normal := m.VertexNormals()
	for i, a := range s.Anchor {
		q, n := vec3(a).Scale(1000), vec3(s.AnchorNormal[i])
		if q[0] < 0 {
			q[0], n[0] = -q[0], -n[0]
		}
		h := g.hand.local(q)
		if h[1] < 88 || h[1] > 210 || math.Abs(h[0]) > 45 || math.Abs(h[2]) > 60 {
			continue
		}
		if side := math.Abs(n.Dot(g.hand.axis[2])); side > 0.5 {
			out.Pos[i] = single(vec3(out.Pos[i]).Add(normal[i].Scale(0.0035 * side)))
		}
	}
	return out
}

func putPosition(b []byte, p [3]float32) {
	for k, v := range p {
		binary.LittleEndian.PutUint32(b[4*k:], math.Float32bits(v))
	}
}
