package ply

import (
	"mien/asset/soup"
)

// faceRow says which property of a face is what, -1 for none.
type faceRow struct{ corners, coordinates, texture int }

// faceReader returns what reads a face.
func (d *decoder) faceReader(e *element) (func(*element) error, error) {
	f := &faceRow{e.find("vertex_indices", "vertex_index"), -1, e.find("texnumber")}
	if d.cornerUV {
		f.coordinates = e.find("texcoord")
	}
	if f.corners < 0 {
		return nil, d.unsupported("element %q has no property vertex_indices or vertex_index", e.name)
	}
	if !e.properties[f.corners].isList() {
		return nil, d.unsupported("face property %q is no list", e.properties[f.corners].name)
	}
	if f.texture >= 0 && e.properties[f.texture].isList() {
		f.texture = -1
	}
	if b, ok := d.src.(*binaryData); ok && len(e.properties) == 1 && e.properties[0].count == uint8Kind &&
		(e.properties[0].kind == int32Kind || e.properties[0].kind == uint32Kind) {
		return func(e *element) error {
			if done, err := d.plainTriangle(b); done || err != nil {
				return err
			}
			return d.face(e, f)
		}, nil
	}
	return func(e *element) error { return d.face(e, f) }, nil
}

// plainTriangle reads a face of three corners without further properties when it is one with all in
// range, and else nothing.
func (d *decoder) plainTriangle(b *binaryData) (done bool, err error) {
	if !b.enough(13) {
		if err := b.want(1, "vertex_indices"); err != nil {
			return false, err
		}
		if b.buf[b.i] != 3 || b.want(13, "") != nil {
			return false, nil
		}
	}
	row := b.buf[b.i : b.i+13]
	if row[0] != 3 {
		return false, nil
	}
	t := [3]uint32{word32(row[1:], b.big), word32(row[5:], b.big), word32(row[9:], b.big)}
	if int64(max(t[0], t[1], t[2])) >= d.vertices {
		return false, nil
	}
	b.i += 13
	uv := t
	if !d.vertexUV {
		uv = [3]uint32{soup.NoUV, soup.NoUV, soup.NoUV}
	}
	d.soup.Triangle(t, uv)
	return true, nil
}

// face reads a row property by property.
func (d *decoder) face(e *element, f *faceRow) error {
	d.p, d.list = d.p[:0], d.list[:0]
	for i := range e.properties {
		q := &e.properties[i]
		var err error
		switch i {
		case f.corners:
			err = d.corners(q)
		case f.coordinates:
			err = d.coordinates(q)
		case f.texture:
			err = d.setTexture(q)
		default:
			err = d.pass(q)
		}
		if err != nil {
			return err
		}
	}
	if len(d.p) < 3 {
		d.few++
		return nil
	}
	if err := d.setUV(); err != nil {
		return err
	}
	d.soup.Polygon(d.p, d.uv)
	return nil
}

// corners reads the vertex indices of a face.
func (d *decoder) corners(q *property) error {
	n, err := d.listLength(q)
	if err != nil {
		return err
	}
	for ; n > 0; n-- {
		v, err := d.index(q)
		if err != nil {
			return err
		}
		d.p = append(soup.Room(d.p), v)
	}
	return nil
}

func (d *decoder) index(q *property) (uint32, error) {
	v, err := d.src.integer(q.kind, q.name)
	if err == nil && (v < 0 || v >= d.vertices) {
		err = d.src.fault("vertex index %d out of range 0 to %d", v, d.vertices-1)
	}
	return uint32(v), err
}

// coordinates reads the texture coordinates of a face's corners, two numbers each.
func (d *decoder) coordinates(q *property) error {
	n, err := d.listLength(q)
	if err != nil {
		return err
	}
	for ; n > 0; n-- {
		x, err := d.src.float64(q.kind, q.name)
		if err != nil {
			return err
		}
		d.list = append(soup.Room(d.list), x)
	}
	return nil
}

// setUV says which texture coordinates the corners of the face have.
func (d *decoder) setUV() error {
	d.uv = d.uv[:0]
	switch {
	case d.vertexUV:
		d.uv = append(d.uv, d.p...)
		return nil
	case d.cornerUV && len(d.list) == 2*len(d.p):
		for k := range d.p {
			c := [2]float32{float32(d.list[2*k]), float32(1 - d.list[2*k+1])}
			if c[0]-c[0] != 0 || c[1]-c[1] != 0 {
				return d.src.fault("texture coordinate %v %v, allowed are numbers in the range of float", d.list[2*k], d.list[2*k+1])
			}
			d.uv = append(d.uv, uint32(len(d.soup.UV)))
			d.soup.UV = append(soup.Room(d.soup.UV), c)
		}
		if len(d.soup.UV) > maxIndex {
			return d.unsupported("more than %d texture coordinates", maxIndex)
		}
		return nil
	case len(d.list) > 0:
		d.oddUV++
	}
	for range d.p {
		d.uv = append(d.uv, soup.NoUV)
	}
	return nil
}

// setTexture reads the number of a face's picture; a negative one stands for none.
func (d *decoder) setTexture(q *property) error {
	n, err := d.src.integer(q.kind, q.name)
	if err != nil {
		return err
	}
	if n < 0 {
		n = int64(len(d.h.textures))
	}
	if n >= soup.MaxMaterials-1 {
		return d.unsupported("picture number %d, read are up to %d", n, soup.MaxMaterials-2)
	}
	d.texture = max(d.texture, int(n))
	d.soup.SetMaterial(int(n))
	return nil
}

// stripReader returns what reads strips of triangles: a list of vertex indices in which -1 begins a
// new strip; every second triangle is turned.
func (d *decoder) stripReader(e *element) (func(*element) error, error) {
	at := e.find("vertex_indices", "vertex_index")
	if at < 0 || !e.properties[at].isList() {
		return nil, d.unsupported("element %q has no list vertex_indices or vertex_index", e.name)
	}
	return func(e *element) error {
		for i := range e.properties {
			var err error
			if q := &e.properties[i]; i == at {
				err = d.strip(q)
			} else {
				err = d.pass(q)
			}
			if err != nil {
				return err
			}
		}
		return nil
	}, nil
}

func (d *decoder) strip(q *property) error {
	n, err := d.listLength(q)
	if err != nil {
		return err
	}
	var last [2]uint32
	for run := 0; n > 0; n-- {
		v, err := d.src.integer(q.kind, q.name)
		if err != nil {
			return err
		}
		if v == -1 {
			run = 0
			continue
		}
		if v < 0 || v >= d.vertices {
			return d.src.fault("vertex index %d out of range 0 to %d, or -1", v, d.vertices-1)
		}
		if run >= 2 {
			t := [3]uint32{last[0], last[1], uint32(v)}
			uv := t
			if !d.vertexUV {
				uv = [3]uint32{soup.NoUV, soup.NoUV, soup.NoUV}
			}
			d.soup.Triangle(t, uv)
		}
		last[run%2] = uint32(v)
		run++
	}
	return nil
}
