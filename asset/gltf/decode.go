package gltf

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Open reads the glTF file at path. Files that it refers to are read from its own folder only, never
// through a link or a name that leads out of it.
func Open(ctx context.Context, path string) (*File, error) {
	root, err := os.OpenRoot(filepath.Dir(path))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, cause(err))
	}
	defer root.Close()
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, cause(err))
	}
	return Decode(ctx, path, data, root.FS())
}

// Decode reads a glTF file of the given bytes; name is what errors call it. dir is the folder that
// files beside it are read from, nil to refuse them.
//
// The mesh is in the file's own unit (metres by the standard) with node transforms applied; mirrored
// nodes keep their triangles facing outside. Positions with equal bits are one; those that no triangle
// uses are left out, and so are triangles with two corners at one position. Vertex order is the
// file's. Labels come from the attribute [RegionAttribute], classes from material names.
//
// It returns a [*FormatError] for a file that breaks the format and an [*UnsupportedError] for one
// that needs what is not read here. Memory is bounded by a multiple of the bytes of the file and
// of those beside it, whatever the counts in the file say.
func Decode(ctx context.Context, name string, data []byte, dir fs.FS) (*File, error) {
	text, at, bin, err := split(name, data)
	if err != nil {
		return nil, err
	}
	parsed, err := parse(name, text, at)
	if err != nil {
		return nil, err
	}
	d := &decoder{ctx: ctx, name: name, dir: dir, doc: parsed, bin: bin, size: len(data),
		buffers: make([][]byte, len(parsed.Buffers)), files: map[string]besideFile{}}
	if err := d.checkMaterials(); err != nil {
		return nil, err
	}
	placed, err := d.instances()
	if err != nil {
		return nil, err
	}
	b := newBuilder(d)
	for _, in := range placed {
		if err := b.add(in); err != nil {
			return nil, err
		}
	}
	m, used, err := b.finish()
	if err != nil {
		return nil, err
	}
	f := &File{Mesh: m}
	if err := d.materials(f, used); err != nil {
		return nil, err
	}
	f.Beside, f.Lost, f.Notes = d.besideNames(), d.lost, d.notes
	return f, nil
}
