package scan

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/asset/texture"
)

// Options says what the caller knows about the files. The zero value means that they speak for
// themselves.
type Options struct {
	Name          string     // what messages call the scan; "" is the mesh file's path
	Part          asset.Part // "" is read from the file's name, where it stands there
	Pose          asset.Pose
	Stage         asset.Stage
	Light         asset.Light
	MetresPerUnit float64 // 0 is what the format says, checked against the size of people
	Limits        texture.Limits
}

// LoadFile loads the mesh at path and the files named after it: textures `<stem>_<channel>.png` or .jpg
// and an OBJ file's library `<stem>.mtl` in the same folder, where stem is the mesh file's name
// without extension. A name that is a link stands for the file that it leads to.
func LoadFile(ctx context.Context, name string, o Options) (*Scan, error) {
	if o.Name == "" {
		o.Name = name
	}
	if info, err := os.Lstat(name); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		if name, err = filepath.EvalSymlinks(name); err != nil {
			return nil, fmt.Errorf("%s: %w", o.Name, bare(err))
		}
	}
	dir, base := filepath.Split(name)
	if dir == "" {
		dir = "."
	}
	files := []string{base}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", o.Name, bare(err))
	}
	stem := strings.TrimSuffix(base, path.Ext(base))
	for _, e := range entries {
		if KindOf(e.Name()) == asset.KindMaterial && strings.TrimSuffix(e.Name(), path.Ext(e.Name())) == stem {
			files = append(files, e.Name())
		}
		if s, ok := strings.CutPrefix(e.Name(), stem+"_"); ok && KindOf(s) == asset.KindTexture {
			if _, ok := parseChannel(strings.TrimSuffix(s, path.Ext(s))); ok {
				files = append(files, e.Name())
			}
		}
	}
	return Load(ctx, dir, files, o)
}

// Load loads the files of one take: one mesh and any number of textures, slash-separated names inside
// folder dir. Nothing outside dir is read, whatever a name or a link says.
//
// OBJ material libraries in files serve an OBJ file whose own are missing. A texture file whose name ends in `_base-color` serves the materials that have no picture of their
// own. A scan without pictures or texture coordinates is loaded with a note. Positions are in metres.
//
// Errors: the FormatError or UnsupportedError of package gltf, obj or ply, a texture's decoding error, and
// [*UnitError] when the mesh is of no size that its part can have.
func Load(ctx context.Context, dir string, files []string, o Options) (*Scan, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, bare(err))
	}
	defer root.Close()
	return LoadFS(ctx, root.FS(), dir, files, o)
}

// LoadFS is [Load] for files of fsys; dir is what messages call the folder.
func LoadFS(ctx context.Context, fsys fs.FS, dir string, files []string, o Options) (*Scan, error) {
	l := &loader{ctx: ctx, fsys: fsys, o: o}
	meshName, err := l.sort(files)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	s := &Scan{Name: o.Name, Part: o.Part, Pose: o.Pose, Stage: o.Stage, Light: o.Light}
	if s.Name == "" {
		s.Name = filepath.Join(dir, filepath.FromSlash(meshName))
	}
	if s.Light == "" {
		s.Light = asset.LightUnknown
	}
	if part, pose := partOfName(meshName); s.Part == "" {
		s.Part = part
		if s.Pose == "" {
			s.Pose = pose
		}
	}
	f, err := l.model(s.Name, meshName)
	if err != nil {
		return nil, err
	}
	s.Mesh, s.Notes = f.mesh, f.notes
	for _, n := range f.lost {
		s.Notes = append(s.Notes, fmt.Sprintf("texture %q is missing", n))
	}
	if err := s.setUnit(o.MetresPerUnit, f.statesUnit); err != nil {
		return nil, err
	}
	s.setLabels()
	if err := l.colour(s, f); err != nil {
		return nil, err
	}
	s.Hash = HashOf(l.members)
	return s, ctx.Err()
}

// loader reads the files of one take.
type loader struct {
	ctx      context.Context
	fsys     fs.FS
	o        Options
	baseFile string // the base colour texture named after the mesh, or ""
	baseData []byte
	material []string // libraries among the files
	names    []string // of the files read, inside the folder
	members  []Member // the same files
}

// sort finds the mesh among files and reads the others.
func (l *loader) sort(files []string) (meshName string, err error) {
	names := slices.Clone(files)
	slices.Sort(names)
	for _, n := range slices.Compact(names) {
		n = path.Clean(filepath.ToSlash(n))
		switch KindOf(n) {
		case asset.KindMesh:
			if meshName != "" {
				return "", fmt.Errorf("two meshes for one take: %q and %q", meshName, n)
			}
			meshName = n
		case asset.KindMaterial:
			l.material = append(l.material, n)
		case asset.KindTexture:
			data, err := fs.ReadFile(l.fsys, n)
			if err != nil {
				return "", fmt.Errorf("%q: %w", n, bare(err))
			}
			channel := ChannelOf(n)
			l.add(n, "texture/"+string(channel), asset.HashBytes(data))
			if channel == asset.BaseColor && l.baseFile == "" {
				l.baseFile, l.baseData = n, data
			}
		}
	}
	if meshName == "" {
		return "", fmt.Errorf("no mesh among %d files, allowed are %s", len(files), meshFormats)
	}
	return meshName, nil
}

// add counts a file towards the take's hash. The mesh file's word on what a file beside it is for
// goes before its name's.
func (l *loader) add(name, role string, hash asset.Hash) {
	m := Member{Role: role, Hash: hash}
	if i := slices.Index(l.names, name); i >= 0 {
		l.members[i] = m
		return
	}
	l.names, l.members = append(l.names, name), append(l.members, m)
}

// setLabels says where region labels come from and clears numbers that name no region.
func (s *Scan) setLabels() {
	s.Labels = LabelsNone
	unknown := 0
	for i, r := range s.Mesh.Label {
		switch {
		case r >= uint8(terms.RegionCount):
			s.Mesh.Label[i] = 0
			unknown++
		case r != 0:
			s.Labels = LabelsAttribute
		}
	}
	if unknown > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d vertices have a region number that names no region", unknown))
	}
	if s.Labels == LabelsNone {
		s.Mesh.Label = nil
	}
}

// Bounds returns the least and greatest coordinates of everything in m that is not floor or support, of
// all when that is all.
func Bounds(m *mesh.Mesh) (lo, hi mesh.Vec) {
	first := true
	for t, tri := range m.Tri {
		if m.ClassOf(t) == uint8(terms.Stand) {
			continue
		}
		for _, i := range tri {
			p := m.At(i)
			if first {
				lo, hi, first = p, p, false
			}
			for k := range p {
				lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
			}
		}
	}
	if first {
		lo, hi, _ = m.Bounds()
	}
	return lo, hi
}

// bare returns what went wrong without the path that fs errors repeat.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
