package loop

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"path"
	"time"

	"mien/asset"
	"mien/asset/scan"
	"mien/catalog/session"
	"mien/catalog/store"
	"mien/diff"
)

// takeFS shows the files of one take under their own names, read from the store and checked against
// their hashes on the way.
type takeFS struct {
	ctx   context.Context
	store store.Store
	files map[string]asset.Hash
}

// fileNames returns the names of a take's files: their own, or names made from their kind where the
// subject's key is not here.
func fileNames(t *session.Take) []string {
	out := make([]string, len(t.Files))
	for i, f := range t.Files {
		if i < len(t.Names) && t.Names[i] != "" {
			out[i] = t.Names[i]
			continue
		}
		ext := map[asset.Kind]string{asset.KindMesh: ".glb", asset.KindTexture: ".png"}[f.Kind]
		out[i] = fmt.Sprintf("file-%d_%s%s", i+1, f.Channel, ext)
	}
	return out
}

func (f takeFS) Open(name string) (fs.File, error) {
	h, ok := f.files[path.Clean(name)]
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	info, err := f.store.Stat(f.ctx, h)
	if err != nil {
		return nil, err
	}
	r, err := f.store.Get(f.ctx, h)
	if err != nil {
		return nil, err
	}
	return &takeFile{r, takeInfo{path.Base(name), info.Size}}, nil
}

type takeFile struct {
	io.ReadCloser
	info takeInfo
}

func (f *takeFile) Stat() (fs.FileInfo, error) { return f.info, nil }

type takeInfo struct {
	name string
	size int64
}

func (i takeInfo) Name() string       { return i.name }
func (i takeInfo) Size() int64        { return i.size }
func (i takeInfo) Mode() fs.FileMode  { return 0o400 }
func (i takeInfo) ModTime() time.Time { return time.Time{} }
func (i takeInfo) IsDir() bool        { return false }
func (i takeInfo) Sys() any           { return nil }

// load reads a take out of the store.
func (l *Loop) load(ctx context.Context, t *session.Take) (*diff.Scan, error) {
	f := takeFS{ctx, l.Catalog.Store(), map[string]asset.Hash{}}
	names := fileNames(t)
	for i, n := range names {
		f.files[path.Clean(n)] = t.Files[i].Hash
	}
	light := asset.Light("")
	for _, file := range t.Files {
		if file.Light != "" {
			light = file.Light
		}
	}
	return scan.LoadFS(ctx, f, t.Subject+" "+t.Session, names, scan.Options{
		Name: t.Session + " " + t.Ref(), Part: t.Part, Pose: t.Pose, Stage: t.Stage, Light: light})
}
