package scan

import (
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"

	"mien/asset"
	"mien/asset/gltf"
	"mien/asset/mesh"
	"mien/asset/obj"
	"mien/asset/ply"
)

const meshFormats = ".glb, .gltf, .obj and .ply"

// model is a decoded mesh file of any format.
type model struct {
	mesh       *mesh.Mesh
	images     []*gltf.Image // base colour by material index, at least one entry; nil for none
	tints      []gltf.Tint   // same length
	lost       []string      // pictures that are named and not there
	notes      []string
	statesUnit bool // by its format
}

// model decodes the mesh file; files that it refers to become members of the take.
func (l *loader) model(shown, name string) (*model, error) {
	folder, err := fs.Sub(l.fsys, path.Dir(name))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", shown, bare(err))
	}
	switch ext := strings.ToLower(path.Ext(name)); ext {
	case ".glb", ".gltf":
		return l.gltf(shown, name, folder)
	case ".obj":
		return l.obj(shown, name, folder)
	case ".ply":
		return l.ply(shown, name, folder)
	default:
		return nil, fmt.Errorf("%s: mesh format %q, read are %s", shown, ext, meshFormats)
	}
}

func (l *loader) gltf(shown, name string, folder fs.FS) (*model, error) {
	data, err := fs.ReadFile(l.fsys, name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", shown, bare(err))
	}
	l.add(name, "mesh", asset.HashBytes(data))
	f, err := gltf.Decode(l.ctx, shown, data, folder)
	if err != nil {
		return nil, err
	}
	for _, n := range f.Beside {
		role := "mesh/data"
		if KindOf(n) == asset.KindTexture {
			role = textureRole(n)
		}
		if _, err := l.member(shown, name, folder, n, role); err != nil {
			return nil, err
		}
	}
	return &model{f.Mesh, f.Images, f.Tints, f.Lost, f.Notes, true}, nil
}

func (l *loader) obj(shown, name string, folder fs.FS) (*model, error) {
	var spare []string
	for _, n := range l.material {
		if path.Dir(n) == path.Dir(name) {
			spare = append(spare, path.Base(n))
		}
	}
	var f *obj.File
	err := l.stream(shown, name, func(r io.Reader) (err error) {
		f, err = obj.Decode(l.ctx, shown, r, folder, spare...)
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, n := range f.Libraries {
		if _, err := l.member(shown, name, folder, n, "mesh/material"); err != nil {
			return nil, err
		}
	}
	m := &model{mesh: f.Mesh, lost: f.Lost, notes: f.Notes}
	return m, l.pictures(m, shown, name, folder, f.Pictures, f.Color != nil)
}

func (l *loader) ply(shown, name string, folder fs.FS) (*model, error) {
	var f *ply.File
	err := l.stream(shown, name, func(r io.Reader) (err error) {
		f, err = ply.Decode(l.ctx, shown, r, folder)
		return err
	})
	if err != nil {
		return nil, err
	}
	m := &model{mesh: f.Mesh, lost: f.Lost, notes: f.Notes}
	return m, l.pictures(m, shown, name, folder, f.Pictures, f.Color != nil)
}

// stream has a mesh file decoded and hashed while it is read, to its end.
func (l *loader) stream(shown, name string, decode func(io.Reader) error) error {
	f, err := l.fsys.Open(name)
	if err != nil {
		return fmt.Errorf("%s: %w", shown, bare(err))
	}
	defer f.Close()
	h := asset.NewHasher()
	r := io.TeeReader(f, h)
	if err := decode(r); err != nil {
		return err
	}
	if _, err := io.Copy(io.Discard, r); err != nil {
		return fmt.Errorf("%s: %w", shown, bare(err))
	}
	l.add(name, "mesh", h.Hash())
	return nil
}

// member reads a file beside the mesh file and counts it towards the take's hash.
func (l *loader) member(shown, name string, folder fs.FS, n, role string) ([]byte, error) {
	data, err := fs.ReadFile(folder, n)
	if err != nil {
		return nil, fmt.Errorf("%s: %q: %w", shown, n, bare(err))
	}
	l.add(path.Join(path.Dir(name), n), role, asset.HashBytes(data))
	return data, nil
}

func textureRole(name string) string { return "texture/" + string(channelOr(name, asset.BaseColor)) }

// pictures reads the base colour files that materials name, each once.
func (l *loader) pictures(m *model, shown, name string, folder fs.FS, names []string, painted bool) error {
	read := map[string]*gltf.Image{"": nil}
	for _, n := range names {
		im, ok := read[n]
		if !ok && KindOf(n) != asset.KindTexture {
			m.notes = append(m.notes, fmt.Sprintf("texture %q: format %q, read are .png and .jpg", n, path.Ext(n)))
		} else if !ok {
			data, err := l.member(shown, name, folder, n, textureRole(n))
			if err != nil {
				return err
			}
			im = &gltf.Image{Name: n, Data: data, File: n}
		}
		read[n] = im
		m.images, m.tints = append(m.images, im), append(m.tints, gltf.Tint{1, 1, 1})
	}
	if painted {
		m.notes = append(m.notes, "colours of vertices are not compared")
	}
	return nil
}
