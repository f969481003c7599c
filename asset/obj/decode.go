package obj

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"mien/asset/lines"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// Open reads the OBJ file at path. Material libraries and pictures are looked for in its own folder only,
// never through a link or a name that leads out of it.
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

// Decode reads an OBJ file from r; name is what errors call it. dir is the folder that libraries and
// pictures are looked for in, nil to read none. Libraries in spare are read when none that the file
// names is there.
//
// Positions with equal bits are one; triangles with two corners at one position and positions that no
// triangle uses are left out. Vertex order is the file's. Numbers are rounded once to float32.
// Texture coordinates have their origin at the top left, so that v = 1 - the file's. Polygons are
// cut as [mesh.Cutter] does. Groups, smoothing, normals, points and lines are read over. Classes
// come from material names.
//
// It returns a [*FormatError] for a file that breaks the format and an [*UnsupportedError] for one that
// needs what is not read here. Memory is bounded by a multiple of the bytes of the file and its
// libraries.
func Decode(ctx context.Context, name string, r io.Reader, dir fs.FS, spare ...string) (*File, error) {
	p := &parser{name: name, line: 1, material: map[string]int{}}
	in := lines.NewReader(r)
	for first := true; ; first = false {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		block, n, err := in.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, cause(err))
		}
		start := 0
		if first {
			if start, err = p.beginning(block[:n]); err != nil {
				return nil, err
			}
		}
		p.soup.Read(in.Bytes)
		// A closed surface has twice as many triangles as vertices.
		p.soup.Expect(2*int64(len(p.soup.Pos)) + 64)
		if err := p.block(block, start, n); err != nil {
			return nil, err
		}
	}
	return p.finish(ctx, dir, spare)
}

func (p *parser) finish(ctx context.Context, dir fs.FS, spare []string) (*File, error) {
	if err := p.checkAhead(); err != nil {
		return nil, err
	}
	p.setColor()
	set := make([]mesh.Material, len(p.materials))
	for k, n := range p.materials {
		set[k] = mesh.Material{Name: n, Class: uint8(terms.ClassOfMaterial(n))}
	}
	s, err := p.soup.Finish(ctx, set)
	if err != nil {
		return nil, err
	}
	if len(s.Mesh.Tri) == 0 {
		return nil, p.fault(0, "no triangles in %d lines", p.line-1)
	}
	f := &File{Mesh: s.Mesh, Color: s.Color, Pictures: make([]string, max(1, len(s.Material)))}
	f.Notes = append(p.notes(), s.Notes...)
	l := &library{ctx: ctx, dir: dir, file: f, picture: map[string]entry{}}
	if err := l.read(p.libraries, spare); err != nil {
		return nil, err
	}
	for k, number := range s.Material {
		if number < len(p.materials) {
			f.Pictures[k] = l.pictureOf(p.materials[number])
		}
	}
	if len(s.Mesh.MaterialSet) == 1 && s.Mesh.MaterialSet[0] == (mesh.Material{}) {
		s.Mesh.MaterialSet = nil
	}
	return f, nil
}

// beginning checks that a file begins like a text and returns the place of its first line.
func (p *parser) beginning(b []byte) (start int, err error) {
	head := string(b[:min(len(b), 4)])
	switch {
	case len(head) >= 3 && head[:3] == "\xef\xbb\xbf":
		return 3, nil
	case len(head) >= 2 && (head[:2] == "\xff\xfe" || head[:2] == "\xfe\xff"):
		return 0, &UnsupportedError{p.name, "text in UTF-16, read is UTF-8"}
	}
	for _, c := range b[:min(len(b), 512)] {
		if c == 0 {
			return 0, p.fault(1, "a zero byte, allowed is text")
		}
	}
	return 0, nil
}

// cause returns what went wrong without the path that fs errors repeat.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
