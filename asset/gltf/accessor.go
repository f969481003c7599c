package gltf

import (
	"encoding/binary"
	"math"

	doc "github.com/qmuntal/gltf"
)

// elements is a bounds-checked view of an accessor: count elements, each of comps components.
type elements struct {
	data       []byte // nil means all zero
	stride     int
	count      int
	comps      int
	kind       doc.ComponentType
	normalized bool
	sparse     *doc.Sparse
}

// accessor returns accessor i without reading its elements.
func (d *decoder) accessor(i int, what string) (elements, error) {
	if i < 0 || i >= len(d.doc.Accessors) {
		return elements{}, d.fault("%s: accessor %d out of range 0 to %d", what, i, len(d.doc.Accessors)-1)
	}
	a := d.doc.Accessors[i]
	e := elements{count: a.Count, comps: a.Type.Components(), kind: a.ComponentType, normalized: a.Normalized, sparse: a.Sparse}
	if a.BufferView == nil {
		if a.Sparse == nil {
			return e, d.fault("%s: accessor %d has no data", what, i)
		}
		if a.Count > d.size {
			return e, d.fault("%s: accessor %d declares %d elements, file has %d bytes", what, i, a.Count, d.size)
		}
		return e, nil
	}
	data, stride, err := d.view(*a.BufferView)
	if err != nil {
		return e, err
	}
	return e, d.place(&e, data, stride, a.ByteOffset, i, what)
}

// place checks that e's elements lie inside data from byte offset on, and sets its bytes.
func (d *decoder) place(e *elements, data []byte, stride, offset, i int, what string) error {
	size := e.kind.ByteSize() * e.comps
	if stride == 0 {
		stride = size
	}
	if stride < size {
		return d.fault("%s: accessor %d: stride %d, an element has %d bytes", what, i, stride, size)
	}
	if e.count < 1 || offset < 0 || offset > len(data) || e.count > len(data) || (e.count-1)*stride+size > len(data)-offset {
		return d.fault("%s: accessor %d: %d elements of %d bytes from byte %d, its buffer view has %d", what, i, e.count, size, offset, len(data))
	}
	e.data, e.stride = data[offset:], stride
	return nil
}

// floats reads accessor i as count vectors of comps float32 numbers, one after the other. Integers
// are divided by their greatest value where the accessor is normalised.
func (d *decoder) floats(i, comps int, what string) ([]float32, error) {
	e, err := d.accessor(i, what)
	if err != nil {
		return nil, err
	}
	if e.comps != comps {
		return nil, d.fault("%s: accessor %d has %d components, allowed are %d", what, i, e.comps, comps)
	}
	if err := d.spend(e.count * comps); err != nil {
		return nil, err
	}
	out := make([]float32, e.count*comps)
	if e.data != nil {
		e.fill(out, nil)
	}
	if e.sparse == nil {
		return out, d.ctx.Err()
	}
	at, values, err := d.sparse(e, i, what)
	if err != nil {
		return nil, err
	}
	values.fill(out, at)
	return out, d.ctx.Err()
}

// vectors reads accessor i as vectors of as many numbers as V has.
func vectors[V vector](d *decoder, i int, what string) ([]V, error) {
	var zero V
	e, err := d.accessor(i, what)
	if err != nil {
		return nil, err
	}
	if e.comps != len(zero) || e.kind != doc.ComponentFloat || e.data == nil || e.sparse != nil {
		flat, err := d.floats(i, len(zero), what)
		out := make([]V, len(flat)/len(zero))
		for k := range out {
			for c := range len(zero) {
				out[k][c] = flat[k*len(zero)+c]
			}
		}
		return out, err
	}
	if err := d.spend(e.count * e.comps); err != nil {
		return nil, err
	}
	out := make([]V, e.count)
	for k := range out {
		b := e.data[k*e.stride:]
		for c := range len(zero) {
			out[k][c] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*c:]))
		}
	}
	return out, d.ctx.Err()
}

// fill writes element k of e to place at[k] of out, or to place k when at is nil.
func (e *elements) fill(out []float32, at []uint32) {
	size := e.kind.ByteSize()
	for k := 0; k < e.count; k++ {
		to := k
		if at != nil {
			to = int(at[k])
		}
		p := e.data[k*e.stride:]
		for c := 0; c < e.comps; c++ {
			out[to*e.comps+c] = e.number(p[c*size:])
		}
	}
}

// number reads one component. Normalisation as in glTF 2.0, section 3.11 (animations) and
// KHR_mesh_quantization: c/127, c/255, c/32767, c/65535, signed ones not below -1.
func (e *elements) number(p []byte) float32 {
	var v, top float64
	switch e.kind {
	case doc.ComponentFloat:
		return math.Float32frombits(binary.LittleEndian.Uint32(p))
	case doc.ComponentByte:
		v, top = float64(int8(p[0])), 127
	case doc.ComponentUbyte:
		v, top = float64(p[0]), 255
	case doc.ComponentShort:
		v, top = float64(int16(binary.LittleEndian.Uint16(p))), 32767
	case doc.ComponentUshort:
		v, top = float64(binary.LittleEndian.Uint16(p)), 65535
	default:
		v, top = float64(binary.LittleEndian.Uint32(p)), math.MaxUint32
	}
	if e.normalized {
		v = max(v/top, -1)
	}
	return float32(v)
}

// integers reads accessor i as unsigned scalars.
func (d *decoder) integers(i int, what string) ([]uint32, error) {
	e, err := d.accessor(i, what)
	if err != nil {
		return nil, err
	}
	if e.comps != 1 {
		return nil, d.fault("%s: accessor %d has %d components, allowed is 1", what, i, e.comps)
	}
	if e.sparse != nil || e.data == nil {
		return nil, d.unsupported("%s: accessor %d is sparse", what, i)
	}
	return d.unsigned(e, i, what)
}

func (d *decoder) unsigned(e elements, i int, what string) ([]uint32, error) {
	if err := d.spend(e.count); err != nil {
		return nil, err
	}
	out := make([]uint32, e.count)
	switch e.kind {
	case doc.ComponentUbyte:
		for k := range out {
			out[k] = uint32(e.data[k*e.stride])
		}
	case doc.ComponentUshort:
		for k := range out {
			out[k] = uint32(binary.LittleEndian.Uint16(e.data[k*e.stride:]))
		}
	case doc.ComponentUint:
		for k := range out {
			out[k] = binary.LittleEndian.Uint32(e.data[k*e.stride:])
		}
	default:
		return nil, d.fault("%s: accessor %d holds %s numbers, allowed are unsigned integers", what, i, kindName(e.kind))
	}
	return out, d.ctx.Err()
}

// sparse returns the places and the values that replace elements of e.
func (d *decoder) sparse(e elements, i int, what string) (at []uint32, values elements, err error) {
	s := e.sparse
	if s.Count < 1 || s.Count > e.count {
		return nil, values, d.fault("%s: accessor %d: %d sparse entries, allowed are 1 to %d", what, i, s.Count, e.count)
	}
	places := elements{count: s.Count, comps: 1, kind: s.Indices.ComponentType}
	data, _, err := d.view(s.Indices.BufferView)
	if err != nil {
		return nil, values, err
	}
	if err := d.place(&places, data, 0, s.Indices.ByteOffset, i, what); err != nil {
		return nil, values, err
	}
	if at, err = d.unsigned(places, i, what); err != nil {
		return nil, values, err
	}
	for k, p := range at {
		if int64(p) >= int64(e.count) {
			return nil, values, d.fault("%s: accessor %d: sparse entry %d is for element %d, out of range 0 to %d", what, i, k, p, e.count-1)
		}
	}
	values = elements{count: s.Count, comps: e.comps, kind: e.kind, normalized: e.normalized}
	if data, _, err = d.view(s.Values.BufferView); err != nil {
		return nil, values, err
	}
	return at, values, d.place(&values, data, 0, s.Values.ByteOffset, i, what)
}

func kindName(k doc.ComponentType) string {
	return [...]string{"float", "byte", "unsigned byte", "short", "unsigned short", "unsigned int"}[k]
}
