package gltf

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	doc "github.com/qmuntal/gltf"

	"mien/asset/mesh"
)

// builder joins placed primitives into one mesh.
type builder struct {
	d *decoder

	pos    [][3]float32
	label  []uint8
	anyReg bool
	tri    [][3]uint32
	uv     [][2]float32
	triUV  [][3]uint32 // noUV where a primitive has no coordinates
	anyUV  bool
	mat    []int32 // material of the document, -1 for none
	used   []int32 // materials in use, document order, -1 last

	positions map[int]*numbered // by accessor
	coords    map[coordKey]*numbered
	regions   map[int][]float32
	turn      uint32
	corners   int
}

const noUV = math.MaxUint32

// numbered holds an accessor's vectors and the place that each has in the mesh during one turn.
type numbered struct {
	v      []float32
	turn   []uint32
	place  []uint32
	wanted []wanted
}

// wanted is a vertex that needs a place.
type wanted struct {
	vertex uint32
	region uint8
}

// want remembers the vertices of corners that have no place in this turn.
func (n *numbered) want(corners []uint32, turn uint32, region []float32) {
	for _, c := range corners {
		if n.turn[c] == turn {
			continue
		}
		n.turn[c] = turn
		w := wanted{vertex: c}
		if region != nil {
			w.region = uint8(region[c])
		}
		n.wanted = append(n.wanted, w)
	}
}

// takeWanted returns the remembered vertices in rising order and forgets them.
func (n *numbered) takeWanted() []wanted {
	w := n.wanted
	n.wanted = nil
	slices.SortFunc(w, func(a, b wanted) int { return cmp.Compare(a.vertex, b.vertex) })
	return w
}

type coordKey struct {
	accessor int
	x        uvTransform
}

func newBuilder(d *decoder) *builder {
	return &builder{d: d, positions: map[int]*numbered{}, coords: map[coordKey]*numbered{}, regions: map[int][]float32{}}
}

// part is one primitive with its accessors read.
type part struct {
	pos, uv *numbered // uv is nil without texture coordinates
	region  []float32 // nil without labels
	corners []uint32
	mat     int32
}

// add appends the triangles of one placed mesh.
func (b *builder) add(in instance) error {
	b.turn++
	gm := b.d.doc.Meshes[in.mesh]
	for _, w := range gm.Weights {
		if w != 0 {
			b.d.note("mesh %d: morph weights are not applied", in.mesh)
			break
		}
	}
	var parts []part
	for k, p := range gm.Primitives {
		q, err := b.part(p, fmt.Sprintf("mesh %d primitive %d", in.mesh, k))
		if err != nil {
			return err
		}
		if q != nil {
			parts = append(parts, *q)
		}
	}
	b.number(in, parts)
	flip := mirrors(in.matrix)
	for _, p := range parts {
		n := len(p.corners) / 3
		b.tri, b.triUV, b.mat = slices.Grow(b.tri, n), slices.Grow(b.triUV, n), slices.Grow(b.mat, n)
		for t := 0; t+2 < len(p.corners); t += 3 {
			c := [3]uint32{p.corners[t], p.corners[t+1], p.corners[t+2]}
			if flip {
				c[1], c[2] = c[2], c[1]
			}
			b.tri = append(b.tri, [3]uint32{p.pos.place[c[0]], p.pos.place[c[1]], p.pos.place[c[2]]})
			u := [3]uint32{noUV, noUV, noUV}
			if p.uv != nil {
				u = [3]uint32{p.uv.place[c[0]], p.uv.place[c[1]], p.uv.place[c[2]]}
			}
			b.triUV = append(b.triUV, u)
			b.mat = append(b.mat, p.mat)
		}
	}
	return b.d.ctx.Err()
}

// part reads the accessors of a primitive, nil when it holds no surface.
func (b *builder) part(p *doc.Primitive, what string) (*part, error) {
	d := b.d
	if p.Mode != doc.PrimitiveTriangles && p.Mode != doc.PrimitiveTriangleStrip && p.Mode != doc.PrimitiveTriangleFan {
		d.note("%s: points or lines, left out", what)
		return nil, nil
	}
	at, ok := p.Attributes[doc.POSITION]
	if !ok {
		d.note("%s: no positions, left out", what)
		return nil, nil
	}
	if has(p.Extensions, extDraco) && at >= 0 && at < len(d.doc.Accessors) && d.doc.Accessors[at].BufferView == nil {
		return nil, d.unsupported("%s is compressed with %q", what, extDraco)
	}
	q := &part{mat: -1}
	if p.Material != nil {
		if *p.Material < 0 || *p.Material >= len(d.doc.Materials) {
			return nil, d.fault("%s: material %d out of range 0 to %d", what, *p.Material, len(d.doc.Materials)-1)
		}
		q.mat = int32(*p.Material)
	}
	var err error
	if q.pos, err = b.position(at, what); err != nil {
		return nil, err
	}
	if q.uv, err = b.coordinates(p, q.mat, len(q.pos.turn), what); err != nil {
		return nil, err
	}
	if q.region, err = b.region(p, len(q.pos.turn), what); err != nil {
		return nil, err
	}
	if q.corners, err = d.corners(p, len(q.pos.turn), what); err != nil {
		return nil, err
	}
	b.corners += len(q.corners)
	if limit := 1<<18 + 2*d.size; b.corners > limit {
		return nil, d.unsupported("%d triangle corners and more, read are %d from %d bytes", b.corners, limit, d.size)
	}
	return q, nil
}

// position returns the vectors of a position accessor, all finite.
func (b *builder) position(at int, what string) (*numbered, error) {
	if n, ok := b.positions[at]; ok {
		return n, nil
	}
	v, err := b.d.floats(at, 3, what+": positions")
	if err != nil {
		return nil, err
	}
	for i, x := range v {
		if f := float64(x); math.IsNaN(f) || math.IsInf(f, 0) {
			return nil, b.d.fault("%s: vertex %d: coordinate %c is %v, allowed are finite numbers", what, i/3, 'x'+rune(i%3), f)
		}
	}
	n := &numbered{v: v, turn: make([]uint32, len(v)/3), place: make([]uint32, len(v)/3)}
	b.positions[at] = n
	return n, nil
}

// coordinates returns the texture coordinates that the base colour of material mat uses, nil when the
// primitive has none.
func (b *builder) coordinates(p *doc.Primitive, mat int32, vertices int, what string) (*numbered, error) {
	x, set := uvIdentity, 0
	if mat >= 0 {
		if pbr := b.d.doc.Materials[mat].PBRMetallicRoughness; pbr != nil && pbr.BaseColorTexture != nil {
			x, set = textureTransform(pbr.BaseColorTexture)
		}
	}
	at, ok := p.Attributes[fmt.Sprintf("TEXCOORD_%d", set)]
	if !ok {
		return nil, nil
	}
	key := coordKey{at, x}
	n, ok := b.coords[key]
	if !ok {
		v, err := b.d.floats(at, 2, what+": texture coordinates")
		if err != nil {
			return nil, err
		}
		for i, c := range v {
			if f := float64(c); math.IsNaN(f) || math.IsInf(f, 0) {
				return nil, b.d.fault("%s: vertex %d: texture coordinate %c is %v, allowed are finite numbers", what, i/2, 'u'+rune(i%2), f)
			}
		}
		if x != uvIdentity {
			x.apply(v)
		}
		n = &numbered{v: v, turn: make([]uint32, len(v)/2), place: make([]uint32, len(v)/2)}
		b.coords[key] = n
	}
	if len(n.turn) != vertices {
		return nil, b.d.fault("%s: %d texture coordinates for %d vertices", what, len(n.turn), vertices)
	}
	b.anyUV = true
	return n, nil
}

// region returns the region number of each vertex, nil when the primitive has none.
func (b *builder) region(p *doc.Primitive, vertices int, what string) ([]float32, error) {
	at, ok := p.Attributes[RegionAttribute]
	if !ok {
		return nil, nil
	}
	v, ok := b.regions[at]
	if !ok {
		var err error
		if v, err = b.d.floats(at, 1, what+": "+RegionAttribute); err != nil {
			return nil, err
		}
		for i, r := range v {
			if !(r >= 0 && r <= 255) || r != float32(uint8(r)) {
				return nil, b.d.fault("%s: vertex %d: %s is %v, allowed are whole numbers 0 to 255", what, i, RegionAttribute, r)
			}
		}
		b.regions[at] = v
	}
	if len(v) != vertices {
		return nil, b.d.fault("%s: %d values of %s for %d vertices", what, len(v), RegionAttribute, vertices)
	}
	b.anyReg = true
	return v, nil
}

// number gives every vertex and texture coordinate that parts use a place in the mesh: accessor by
// accessor, and within one in the file's order. No node moves a texture coordinate, so that these
// keep their places from one instance of a mesh to the next.
func (b *builder) number(in instance, parts []part) {
	for _, p := range parts {
		p.pos.want(p.corners, b.turn, p.region)
		if p.uv != nil {
			p.uv.want(p.corners, 1, nil)
		}
	}
	for _, p := range parts {
		for _, w := range p.pos.takeWanted() {
			p.pos.place[w.vertex] = uint32(len(b.pos))
			v := p.pos.v[3*w.vertex:]
			x := [3]float32{v[0], v[1], v[2]}
			if in.matrix != identity {
				q := mesh.Apply(in.matrix, mesh.Vec{float64(x[0]), float64(x[1]), float64(x[2])})
				x = [3]float32{float32(q[0]), float32(q[1]), float32(q[2])}
			}
			b.pos, b.label = append(b.pos, x), append(b.label, w.region)
		}
		if p.uv == nil {
			continue
		}
		for _, w := range p.uv.takeWanted() {
			p.uv.place[w.vertex] = uint32(len(b.uv))
			b.uv = append(b.uv, [2]float32{p.uv.v[2*w.vertex], p.uv.v[2*w.vertex+1]})
		}
	}
}
