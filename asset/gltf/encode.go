package gltf

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"net/url"

	doc "github.com/qmuntal/gltf"

	"mien/asset/mesh"
)

// Options says what [Encode] writes besides the mesh.
type Options struct {
	Name      string     // of the node and the mesh; "" is "scan"
	Generator string     // of the document; "" is "mien"
	Images    []*Image   // base colour by material index, nil entries for none; one with File set is written as a reference
	Color     [][4]uint8 // one linear colour a position, or nil
}

// Encode writes m as a binary glTF file: positions split where texture coordinates differ, normals,
// texture coordinates, region labels (as one unsigned byte a vertex), one primitive a material.
//
// Every primitive shares the vertex data, in the order of m's positions, so that decoding gives the
// positions back in order; triangles are grouped by material. Positions that no triangle uses are
// not written. Same arguments give the same bytes.
//
// It returns an error for a mesh that [mesh.Mesh.Check] refuses or that has no triangles.
func Encode(w io.Writer, m *mesh.Mesh, o Options) error {
	if err := m.Check(); err != nil {
		return fmt.Errorf("encode glTF: %w", err)
	}
	if len(m.Tri) == 0 {
		return fmt.Errorf("encode glTF: no triangles")
	}
	if o.Color != nil && len(o.Color) != len(m.Pos) {
		return fmt.Errorf("encode glTF: %d colours for %d vertices", len(o.Color), len(m.Pos))
	}
	if o.Name == "" {
		o.Name = "scan"
	}
	if o.Generator == "" {
		o.Generator = "mien"
	}
	e := &encoder{doc: &doc.Document{Asset: doc.Asset{Version: "2.0", Generator: o.Generator}}}
	v := splitVertices(m)
	attributes := e.attributes(m, v, o)
	e.materials(m, o)
	var primitives []*doc.Primitive
	for k := range max(1, len(m.MaterialSet)) {
		p := e.primitive(m, v, k, attributes)
		if p != nil {
			primitives = append(primitives, p)
		}
	}
	e.doc.Meshes = []*doc.Mesh{{Name: o.Name, Primitives: primitives}}
	e.doc.Nodes = []*doc.Node{{Name: o.Name, Mesh: doc.Index(0)}}
	e.doc.Scenes = []*doc.Scene{{Nodes: []int{0}}}
	e.doc.Scene = doc.Index(0)
	e.pad()
	e.doc.Buffers = []*doc.Buffer{{ByteLength: e.bin.Len(), Data: e.bin.Bytes()}}
	return doc.NewEncoder(w).Encode(e.doc)
}

type encoder struct {
	doc *doc.Document
	bin bytes.Buffer
}

// vertices are those to write: a position and a texture coordinate each, and the vertex of
// every triangle corner.
type vertices struct {
	pos, uv []uint32
	corner  [][3]uint32
}

// splitVertices makes one vertex of every distinct pair of position and texture coordinate, ordered
// by position and, within one, by first use.
func splitVertices(m *mesh.Mesh) vertices {
	const none = math.MaxUint32
	type entry struct{ uv, next uint32 }
	head := make([]uint32, len(m.Pos))
	for i := range head {
		head[i] = none
	}
	var entries []entry
	find := func(p, uv uint32) uint32 {
		last := uint32(none)
		for e := head[p]; e != none; e = entries[e].next {
			if entries[e].uv == uv {
				return e
			}
			last = e
		}
		n := uint32(len(entries))
		entries = append(entries, entry{uv, none})
		if last == none {
			head[p] = n
		} else {
			entries[last].next = n
		}
		return n
	}
	v := vertices{corner: make([][3]uint32, len(m.Tri))}
	for t, tri := range m.Tri {
		for k := range tri {
			var uv uint32
			if m.TriUV != nil {
				uv = m.TriUV[t][k]
			}
			v.corner[t][k] = find(tri[k], uv)
		}
	}
	place := make([]uint32, len(entries))
	for p, e := range head {
		for ; e != none; e = entries[e].next {
			place[e] = uint32(len(v.pos))
			v.pos = append(v.pos, uint32(p))
			v.uv = append(v.uv, entries[e].uv)
		}
	}
	for t := range v.corner {
		for k := range v.corner[t] {
			v.corner[t][k] = place[v.corner[t][k]]
		}
	}
	return v
}

func (e *encoder) attributes(m *mesh.Mesh, v vertices, o Options) doc.PrimitiveAttributes {
	n := len(v.pos)
	out := doc.PrimitiveAttributes{}
	raw := make([]byte, 0, 12*n)
	lo, hi := [3]float32{}, [3]float32{}
	for i, p := range v.pos {
		q := m.Pos[p]
		for k, x := range q {
			raw = float(raw, x)
			if i == 0 || x < lo[k] {
				lo[k] = x
			}
			if i == 0 || x > hi[k] {
				hi[k] = x
			}
		}
	}
	out[doc.POSITION] = e.accessor(raw, 0, doc.TargetArrayBuffer, doc.Accessor{ComponentType: doc.ComponentFloat, Type: doc.AccessorVec3, Count: n,
		Min: []float64{float64(lo[0]), float64(lo[1]), float64(lo[2])}, Max: []float64{float64(hi[0]), float64(hi[1]), float64(hi[2])}})

	normals := m.VertexNormals()
	raw = raw[:0]
	for _, p := range v.pos {
		q := normals[p]
		if q == (mesh.Vec{}) {
			q = mesh.Vec{0, 1, 0}
		}
		for _, x := range q {
			raw = float(raw, float32(x))
		}
	}
	out[doc.NORMAL] = e.accessor(raw, 0, doc.TargetArrayBuffer, doc.Accessor{ComponentType: doc.ComponentFloat, Type: doc.AccessorVec3, Count: n})

	if m.TriUV != nil {
		raw = raw[:0]
		for _, u := range v.uv {
			raw = float(float(raw, m.UV[u][0]), m.UV[u][1])
		}
		out[doc.TEXCOORD_0] = e.accessor(raw, 0, doc.TargetArrayBuffer, doc.Accessor{ComponentType: doc.ComponentFloat, Type: doc.AccessorVec2, Count: n})
	}
	if m.Label != nil {
		raw = raw[:0]
		for _, p := range v.pos {
			raw = append(raw, m.Label[p], 0, 0, 0)
		}
		out[RegionAttribute] = e.accessor(raw, 4, doc.TargetArrayBuffer, doc.Accessor{ComponentType: doc.ComponentUbyte, Type: doc.AccessorScalar, Count: n})
	}
	if o.Color != nil {
		raw = raw[:0]
		for _, p := range v.pos {
			c := o.Color[p]
			raw = append(raw, c[0], c[1], c[2], c[3])
		}
		out[doc.COLOR_0] = e.accessor(raw, 0, doc.TargetArrayBuffer, doc.Accessor{ComponentType: doc.ComponentUbyte, Normalized: true, Type: doc.AccessorVec4, Count: n})
	}
	return out
}

// primitive returns the triangles of material k, nil when it has none.
func (e *encoder) primitive(m *mesh.Mesh, v vertices, k int, attributes doc.PrimitiveAttributes) *doc.Primitive {
	wide := len(v.pos) > math.MaxUint16 // 65535 itself is reserved
	var raw []byte
	n := 0
	for t := range m.Tri {
		if m.MaterialOf(t) != k {
			continue
		}
		for _, c := range v.corner[t] {
			if wide {
				raw = binary.LittleEndian.AppendUint32(raw, c)
			} else {
				raw = binary.LittleEndian.AppendUint16(raw, uint16(c))
			}
			n++
		}
	}
	if n == 0 {
		return nil
	}
	a := doc.Accessor{ComponentType: doc.ComponentUshort, Type: doc.AccessorScalar, Count: n}
	if wide {
		a.ComponentType = doc.ComponentUint
	}
	p := &doc.Primitive{Attributes: attributes, Indices: doc.Index(e.accessor(raw, 0, doc.TargetElementArrayBuffer, a))}
	if len(e.doc.Materials) > 0 {
		p.Material = doc.Index(k)
	}
	return p
}

// materials writes the material set and the pictures in use, each picture once.
func (e *encoder) materials(m *mesh.Mesh, o Options) {
	set := m.MaterialSet
	if len(set) == 0 {
		if len(o.Images) == 0 || o.Images[0] == nil {
			return
		}
		set = []mesh.Material{{}}
	}
	texture := map[*Image]int{}
	for k, mat := range set {
		var tex *int
		if k < len(o.Images) && o.Images[k] != nil && m.TriUV != nil {
			n, ok := texture[o.Images[k]]
			if !ok {
				n = e.texture(o.Images[k])
				texture[o.Images[k]] = n
			}
			tex = &n
		}
		e.doc.Materials = append(e.doc.Materials, &doc.Material{Name: mat.Name, PBRMetallicRoughness: colourOf(tex)})
	}
}

func (e *encoder) texture(im *Image) int {
	out := &doc.Image{Name: im.Name}
	if im.File != "" {
		out.URI = (&url.URL{Path: im.File}).EscapedPath()
	} else {
		out.MimeType = im.Mime
		if m := sniff(im.Data); m != "" {
			out.MimeType = m
		}
		out.BufferView = doc.Index(e.view(im.Data, 0, doc.TargetNone))
	}
	e.doc.Images = append(e.doc.Images, out)
	e.doc.Textures = append(e.doc.Textures, &doc.Texture{Source: doc.Index(len(e.doc.Images) - 1)})
	return len(e.doc.Textures) - 1
}

func (e *encoder) accessor(raw []byte, stride int, target doc.Target, a doc.Accessor) int {
	a.BufferView = doc.Index(e.view(raw, stride, target))
	e.doc.Accessors = append(e.doc.Accessors, &a)
	return len(e.doc.Accessors) - 1
}

func (e *encoder) view(raw []byte, stride int, target doc.Target) int {
	e.pad()
	e.doc.BufferViews = append(e.doc.BufferViews, &doc.BufferView{Buffer: 0, ByteOffset: e.bin.Len(), ByteLength: len(raw), ByteStride: stride, Target: target})
	e.bin.Write(raw)
	return len(e.doc.BufferViews) - 1
}

func (e *encoder) pad() {
	for e.bin.Len()%4 != 0 {
		e.bin.WriteByte(0)
	}
}

func float(raw []byte, x float32) []byte {
	return binary.LittleEndian.AppendUint32(raw, math.Float32bits(x))
}
