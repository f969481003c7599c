package gltf

import (
	"fmt"

	doc "github.com/qmuntal/gltf"

	"mien/asset/soup"
)

// builder joins placed primitives into one mesh.
type builder struct {
	d    *decoder
	soup soup.Soup

	positions map[int]*numbered[[3]float32] // by accessor
	coords    map[coordKey]*numbered[[2]float32]
	regions   map[int][]float32
	turn      uint32
	corners   int
}

type coordKey struct {
	accessor int
	x        uvTransform
}

func newBuilder(d *decoder) *builder {
	return &builder{d: d, positions: map[int]*numbered[[3]float32]{}, coords: map[coordKey]*numbered[[2]float32]{}, regions: map[int][]float32{}}
}

// part is one primitive with its accessors read.
type part struct {
	pos    *numbered[[3]float32]
	uv     *numbered[[2]float32] // nil without texture coordinates
	region []float32             // nil without labels
	tri    [][3]uint32
	mat    int // of the document, the count of those for none
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
	var parts []*part
	for k, p := range gm.Primitives {
		q, err := b.part(p, fmt.Sprintf("mesh %d primitive %d", in.mesh, k))
		if err != nil {
			return err
		}
		if q != nil {
			parts = append(parts, q)
		}
	}
	if err := b.number(in, parts); err != nil {
		return err
	}
	flip := mirrors(in.matrix)
	for _, p := range parts {
		if flip {
			for t := range p.tri {
				p.tri[t][1], p.tri[t][2] = p.tri[t][2], p.tri[t][1]
			}
		}
		var uv [][3]uint32
		if p.uv != nil {
			uv = make([][3]uint32, len(p.tri))
			p.uv.places(p.tri, uv)
		}
		p.pos.places(p.tri, p.tri)
		b.soup.SetMaterial(p.mat)
		b.soup.Triangles(p.tri, uv)
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
	q := &part{mat: len(d.doc.Materials)}
	if p.Material != nil {
		if *p.Material < 0 || *p.Material >= len(d.doc.Materials) {
			return nil, d.fault("%s: material %d out of range 0 to %d", what, *p.Material, len(d.doc.Materials)-1)
		}
		q.mat = *p.Material
	}
	var err error
	if q.pos, err = b.position(at, what); err != nil {
		return nil, err
	}
	if q.uv, err = b.coordinates(p, q.mat, len(q.pos.v), what); err != nil {
		return nil, err
	}
	if q.region, err = b.region(p, len(q.pos.v), what); err != nil {
		return nil, err
	}
	if q.tri, err = d.triangles(p, len(q.pos.v), what); err != nil {
		return nil, err
	}
	b.corners += 3 * len(q.tri)
	if limit := 1<<18 + 2*d.size; b.corners > limit {
		return nil, d.unsupported("%d triangle corners and more, read are %d from %d bytes", b.corners, limit, d.size)
	}
	return q, nil
}

// position returns the vectors of a position accessor, all finite.
func (b *builder) position(at int, what string) (*numbered[[3]float32], error) {
	if n, ok := b.positions[at]; ok {
		return n, nil
	}
	v, err := vectors[[3]float32](b.d, at, what+": positions")
	if err != nil {
		return nil, err
	}
	if i, k := firstOdd(v); i >= 0 {
		return nil, b.d.fault("%s: vertex %d: coordinate %c is %v, allowed are finite numbers", what, i, 'x'+rune(k), v[i][k])
	}
	n := &numbered[[3]float32]{v: v}
	b.positions[at] = n
	return n, nil
}

// firstOdd returns the place of the first number that is not finite, -1 when all are.
func firstOdd[V vector](v []V) (i, k int) {
	for i := range v {
		for k := range len(v[i]) {
			if v[i][k]-v[i][k] != 0 {
				return i, k
			}
		}
	}
	return -1, -1
}

// coordinates returns the texture coordinates that the base colour of material mat uses, nil when the
// primitive has none.
func (b *builder) coordinates(p *doc.Primitive, mat, vertices int, what string) (*numbered[[2]float32], error) {
	x, set := uvIdentity, 0
	if mat < len(b.d.doc.Materials) {
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
		v, err := vectors[[2]float32](b.d, at, what+": texture coordinates")
		if err != nil {
			return nil, err
		}
		if i, k := firstOdd(v); i >= 0 {
			return nil, b.d.fault("%s: vertex %d: texture coordinate %c is %v, allowed are finite numbers", what, i, 'u'+rune(k), v[i][k])
		}
		if x != uvIdentity {
			x.apply(v)
		}
		n = &numbered[[2]float32]{v: v}
		b.coords[key] = n
	}
	if len(n.v) != vertices {
		return nil, b.d.fault("%s: %d texture coordinates for %d vertices", what, len(n.v), vertices)
	}
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
	return v, nil
}
