package ply

import (
	"math"

	"mien/asset/soup"
)

// slots are what is kept of a vertex: x y z, u v, red green blue.
const slots = 8

// vertexRow says which property goes to which slot.
type vertexRow struct {
	slot   []int // by property, -1 for one that is read over
	hasUV  bool
	colour bool
	top    float64 // of a colour
	offset [slots]int
	kind   [slots]kind // noKind for a slot without property
	bytes  int         // of a row, 0 when a list makes rows differ
	floats bool        // x y z are float32
}

var uvNames = [][2]string{{"s", "t"}, {"u", "v"}, {"texture_u", "texture_v"}, {"texture_s", "texture_t"}}

var colourNames = [][3]string{{"red", "green", "blue"}, {"diffuse_red", "diffuse_green", "diffuse_blue"}, {"r", "g", "b"}}

// uv returns the places of the properties that hold a vertex's texture coordinates, -1 without them.
func (e *element) uv() (u, v int) {
	for _, n := range uvNames {
		if u, v = e.find(n[0]), e.find(n[1]); u >= 0 && v >= 0 && !e.properties[u].isList() && !e.properties[v].isList() {
			return u, v
		}
	}
	return -1, -1
}

// vertexReader returns what reads a vertex.
func (d *decoder) vertexReader(e *element) (func(*element) error, error) {
	if e.count > maxIndex {
		return nil, d.unsupported("%d vertices, read are up to %d", e.count, maxIndex)
	}
	v := &vertexRow{slot: make([]int, len(e.properties))}
	for i := range v.slot {
		v.slot[i] = -1
	}
	set := func(slot, property int) {
		v.slot[property], v.kind[slot] = slot, e.properties[property].kind
	}
	for k, n := range [3]string{"x", "y", "z"} {
		i := e.find(n)
		if i < 0 {
			return nil, &FormatError{Name: d.name, Byte: -1, Text: "element vertex has no property " + n}
		}
		if e.properties[i].isList() {
			return nil, d.unsupported("vertex property %q is a list", n)
		}
		set(k, i)
	}
	if d.vertexUV {
		i, j := e.uv()
		set(3, i)
		set(4, j)
		v.hasUV = true
	}
	for _, n := range colourNames {
		i, j, k := e.find(n[0]), e.find(n[1]), e.find(n[2])
		if i < 0 || j < 0 || k < 0 || e.properties[i].isList() || e.properties[j].isList() || e.properties[k].isList() {
			continue
		}
		set(5, i)
		set(6, j)
		set(7, k)
		v.colour, v.top = true, colourTop(e.properties[i].kind)
		break
	}
	if b, ok := d.src.(*binaryData); ok && v.place(e) {
		return func(*element) error { return d.fixedVertex(b, v) }, nil
	}
	return func(e *element) error { return d.vertex(e, v) }, nil
}

// colourTop returns the value of full brightness. Common practice, no source.
func colourTop(k kind) float64 {
	switch k {
	case float32Kind, float64Kind:
		return 1
	case int16Kind, uint16Kind, int32Kind, uint32Kind:
		return math.MaxUint16
	}
	return math.MaxUint8
}

// place finds where each slot lies in a row of binary data; it reports whether all rows are equal.
func (v *vertexRow) place(e *element) bool {
	at := 0
	for i, p := range e.properties {
		if p.isList() {
			return false
		}
		if v.slot[i] >= 0 {
			v.offset[v.slot[i]] = at
		}
		at += kindBytes[p.kind]
	}
	v.bytes = at
	v.floats = v.kind[0] == float32Kind && v.kind[1] == float32Kind && v.kind[2] == float32Kind
	return at <= binaryBuffer
}

// vertex reads a row property by property.
func (d *decoder) vertex(e *element, v *vertexRow) error {
	var p [3]float32
	var c [slots]float64
	for i := range e.properties {
		q := &e.properties[i]
		var err error
		switch k := v.slot[i]; {
		case k < 0:
			err = d.pass(q)
		case k < 3:
			p[k], err = d.src.float32(q.kind, q.name)
		default:
			c[k], err = d.src.float64(q.kind, q.name)
		}
		if err != nil {
			return err
		}
	}
	return d.keep(v, p, c)
}

// fixedVertex reads a row of known width.
func (d *decoder) fixedVertex(b *binaryData, v *vertexRow) error {
	if !b.enough(v.bytes) {
		if err := b.want(v.bytes, "vertex"); err != nil {
			return err
		}
	}
	row := b.buf[b.i : b.i+v.bytes]
	var p [3]float32
	var c [slots]float64
	for k := range p {
		if v.floats {
			p[k] = math.Float32frombits(word32(row[v.offset[k]:], b.big))
		} else {
			p[k] = float32(number(row[v.offset[k]:], v.kind[k], b.big))
		}
		if p[k]-p[k] != 0 {
			b.i += v.offset[k]
			return b.fault("%c is %v, allowed are finite numbers in the range of float", 'x'+rune(k), number(row[v.offset[k]:], v.kind[k], b.big))
		}
	}
	if v.hasUV || v.colour {
		for k := 3; k < slots; k++ {
			if v.kind[k] != noKind {
				c[k] = number(row[v.offset[k]:], v.kind[k], b.big)
			}
		}
	}
	if err := d.keep(v, p, c); err != nil {
		return err
	}
	b.i += v.bytes
	return nil
}

// keep adds a vertex.
func (d *decoder) keep(v *vertexRow, p [3]float32, c [slots]float64) error {
	s := &d.soup
	s.Pos = append(soup.RoomOf(s.Pos, d.vertices), p)
	if v.hasUV {
		uv := [2]float32{float32(c[3]), float32(1 - c[4])}
		if uv[0]-uv[0] != 0 || uv[1]-uv[1] != 0 {
			return d.src.fault("texture coordinate %v %v, allowed are finite numbers in the range of float", c[3], c[4])
		}
		s.UV = append(soup.RoomOf(s.UV, d.vertices), uv)
	}
	if v.colour {
		var rgb [3]uint8
		for k := range rgb {
			if x := math.Round(c[5+k] / v.top * math.MaxUint8); x > 0 {
				rgb[k] = uint8(min(x, math.MaxUint8))
			}
		}
		s.Color = append(soup.RoomOf(s.Color, d.vertices), rgb)
	}
	return nil
}
