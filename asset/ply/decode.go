package ply

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"mien/asset/beside"
	"mien/asset/lines"
	"mien/asset/mesh"
	"mien/asset/soup"
	"mien/asset/terms"
)

// Open reads the PLY file at path. Pictures are looked for in its own folder only, never through a link
// or a name that leads out of it.
func Open(ctx context.Context, path string) (*File, error) {
	root, err := os.OpenRoot(filepath.Dir(path))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, cause(err))
	}
	defer root.Close()
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, cause(err))
	}
	defer f.Close()
	return Decode(ctx, path, f, root.FS())
}

// Decode reads a PLY file from r; name is what errors call it. dir is the folder that pictures are
// looked for in, nil for none.
//
// Positions with equal bits are one; triangles with two corners at one position and positions that no
// triangle uses are left out. Vertex order is the file's. Texture coordinates, of vertices or of a
// face's corners, have their origin at the top left, so that v = 1 - the file's. Polygons are cut as
// [mesh.Cutter] does. Other elements and properties are read over. Materials are the pictures that
// comments name, by a face's "texnumber"; classes other than skin come from their names.
//
// It returns a [*FormatError] for a file that breaks the format and an [*UnsupportedError] for one that
// needs what is not read here. Memory is bounded by a multiple of the file's bytes, whatever its
// header says.
func Decode(ctx context.Context, name string, r io.Reader, dir fs.FS) (*File, error) {
	in := bufio.NewReaderSize(r, 64<<10)
	h, err := readHeader(name, in)
	if err != nil {
		return nil, err
	}
	d := &decoder{ctx: ctx, name: name, h: h}
	if h.text {
		d.src = &text{name: name, in: lines.NewReader(in), line: h.lines + 1}
	} else {
		d.src = &binaryData{name: name, r: in, big: h.big, buf: make([]byte, binaryBuffer), base: h.bytes}
	}
	d.plan()
	for i := range h.elements {
		if err := d.element(&h.elements[i]); err != nil {
			return nil, err
		}
	}
	return d.finish(dir)
}

// decoder holds what is read while one file is decoded.
type decoder struct {
	ctx  context.Context
	name string
	h    *header
	src  source
	soup soup.Soup

	row      int64 // of the element being read
	vertices int64 // that the header declares
	vertexUV bool
	cornerUV bool
	p, uv    []uint32 // corners of the face being read
	list     []float64
	few      int // faces of fewer than three corners
	oddUV    int // faces whose texture coordinates do not fit their corners
	texture  int // the greatest picture number in use
	notes    []string
}

func (d *decoder) unsupported(format string, args ...any) error {
	return &UnsupportedError{d.name, fmt.Sprintf(format, args...)}
}

func (d *decoder) note(format string, args ...any) {
	d.notes = append(d.notes, fmt.Sprintf(format, args...))
}

// plan learns from the header what rows refer to, whatever order the elements stand in: the count of
// vertices, and whether these or the corners of faces have texture coordinates.
func (d *decoder) plan() {
	for _, e := range d.h.elements {
		switch e.name {
		case "vertex":
			d.vertices = min(e.count, maxIndex)
			u, _ := e.uv()
			d.vertexUV = u >= 0
		case "face", "faces":
			d.soup.Expect(e.count)
			i := e.find("texcoord")
			d.cornerUV = i >= 0 && e.properties[i].isList()
		}
	}
	d.vertexUV = d.vertexUV && !d.cornerUV
}

// element reads the rows of an element.
func (d *decoder) element(e *element) error {
	if len(e.properties) == 0 || e.count == 0 {
		return nil
	}
	read := d.passOver
	var err error
	switch e.name {
	case "vertex":
		read, err = d.vertexReader(e)
	case "face", "faces":
		read, err = d.faceReader(e)
	case "tristrips":
		read, err = d.stripReader(e)
	}
	if err != nil {
		return err
	}
	for d.row = 0; d.row < e.count; d.row++ {
		if d.row&0x3fff == 0 {
			if err := d.ctx.Err(); err != nil {
				return err
			}
			d.soup.Read(d.src.read())
		}
		err := d.src.row()
		if err == nil {
			err = read(e)
		}
		if err == nil {
			err = d.src.endRow(e.name)
		}
		if err != nil {
			var f *FormatError
			if errors.As(err, &f) {
				f.Text = fmt.Sprintf("%s %d of %d: %s", e.name, d.row, e.count, f.Text)
			}
			return err
		}
	}
	return nil
}

// passOver reads a row and keeps nothing.
func (d *decoder) passOver(e *element) error {
	for i := range e.properties {
		if err := d.pass(&e.properties[i]); err != nil {
			return err
		}
	}
	return nil
}

func (d *decoder) pass(p *property) error {
	n := int64(1)
	if p.isList() {
		var err error
		if n, err = d.listLength(p); err != nil {
			return err
		}
	}
	return d.src.skip(p.kind, n, p.name)
}

// listLength reads the count of a list's entries.
func (d *decoder) listLength(p *property) (int64, error) {
	n, err := d.src.integer(p.count, p.name)
	if err == nil && n < 0 {
		err = d.src.fault("%s has %d entries, allowed are 0 and more", p.name, n)
	}
	return n, err
}

func (d *decoder) finish(dir fs.FS) (*File, error) {
	if d.cornerUV {
		if err := d.soup.JoinUV(d.ctx); err != nil {
			return nil, err
		}
	}
	var set []mesh.Material
	if d.texture > 0 {
		for k := range d.texture + 1 {
			m := mesh.Material{}
			if k < len(d.h.textures) {
				n := path.Base(strings.ReplaceAll(d.h.textures[k], `\`, "/"))
				m.Name = strings.TrimSuffix(n, path.Ext(n))
				// A picture called after the head or the body shows more than skin.
				if c := terms.ClassOfMaterial(m.Name); c != terms.Skin {
					m.Class = uint8(c)
				}
			}
			set = append(set, m)
		}
	}
	s, err := d.soup.Finish(d.ctx, set)
	if err != nil {
		return nil, err
	}
	if len(s.Mesh.Tri) == 0 {
		return nil, &FormatError{Name: d.name, Byte: -1, Text: fmt.Sprintf("no triangles over %d vertices", d.vertices)}
	}
	if d.few > 0 {
		d.note("%d faces of fewer than three corners left out", d.few)
	}
	if d.oddUV > 0 {
		d.note("%d faces have texture coordinates that do not fit their corners", d.oddUV)
	}
	f := &File{Mesh: s.Mesh, Color: s.Color, Notes: append(d.notes, s.Notes...)}
	for _, k := range s.Material {
		f.Pictures = append(f.Pictures, d.picture(f, dir, k))
	}
	return f, nil
}

// picture returns the file of picture number k inside the folder, "" when there is none.
func (d *decoder) picture(f *File, dir fs.FS, k int) string {
	if k >= len(d.h.textures) {
		return ""
	}
	found, ok := beside.Find(dir, ".", d.h.textures[k])
	if !ok && !slices.Contains(f.Lost, d.h.textures[k]) {
		f.Lost = append(f.Lost, d.h.textures[k])
	}
	return found
}

const maxIndex = math.MaxUint32 - 2

// cause returns what went wrong without the path that fs errors repeat.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
