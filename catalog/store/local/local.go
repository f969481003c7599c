// Package local is a store in a folder of this machine: ab/abcdef..., where ab are the first two digits.
package local

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/zeebo/blake3"

	"mien/asset"
	"mien/catalog/durable"
	"mien/catalog/store"
)

// Store keeps files in a folder. Make one with [Open].
type Store struct{ dir string }

var (
	_ store.Store  = (*Store)(nil)
	_ store.Pather = (*Store)(nil)
)

// incoming is the folder of files that are still being written.
const incoming = "incoming"

// Init creates the folder of a store.
func Init(dir string) (*Store, error) {
	if err := durable.Mkdir(filepath.Join(dir, incoming)); err != nil {
		return nil, err
	}
	return &Store{dir: dir}, nil
}

// Open returns the store in dir, which [Init] made.
func Open(dir string) (*Store, error) {
	if _, err := os.Stat(filepath.Join(dir, incoming)); err != nil {
		return nil, err
	}
	return &Store{dir: dir}, nil
}

// Path returns the name of a file on this machine, whether or not the file is here.
func (s *Store) Path(h asset.Hash) string {
	name := h.String()
	return filepath.Join(s.dir, name[:2], name)
}

// Put implements [store.Store]. Memory does not grow with r.
func (s *Store) Put(ctx context.Context, r io.Reader) (h asset.Hash, size int64, existed bool, err error) {
	f, err := durable.Temp(filepath.Join(s.dir, incoming))
	if err != nil {
		return h, 0, false, err
	}
	defer f.Discard()
	hasher := blake3.New()
	buf := make([]byte, 512<<10)
	for {
		if err := ctx.Err(); err != nil {
			return h, size, false, err
		}
		n, err := r.Read(buf)
		hasher.Write(buf[:n])
		if _, err := f.Write(buf[:n]); err != nil {
			return h, size, false, err
		}
		size += int64(n)
		if err == io.EOF {
			break
		}
		if err != nil {
			return h, size, false, err
		}
	}
	hasher.Sum(h[:0])

	existed, err = s.whole(ctx, h)
	if err != nil {
		return h, size, existed, err
	}
	if existed { // somebody is about to name it: it is as young as a new one
		now := time.Now()
		os.Chtimes(s.Path(h), now, now)
		return h, size, true, nil
	}
	path := s.Path(h)
	if err := durable.Mkdir(filepath.Dir(path)); err != nil {
		return h, size, false, err
	}
	if err := f.Place(path, 0o400); err != nil {
		return h, size, false, err
	}
	return h, size, false, durable.SyncDir(filepath.Dir(path))
}

// whole reports whether an undamaged copy of h stands in the store.
func (s *Store) whole(ctx context.Context, h asset.Hash) (bool, error) {
	_, err := store.Check(ctx, s, h)
	var missing *store.MissingError
	var damaged *store.DamageError
	if errors.As(err, &missing) || errors.As(err, &damaged) {
		return false, nil
	}
	return err == nil, err
}

// Get implements [store.Store].
func (s *Store) Get(ctx context.Context, h asset.Hash) (io.ReadCloser, error) {
	f, err := os.Open(s.Path(h))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &store.MissingError{Hash: h}
	}
	if err != nil {
		return nil, err
	}
	return &reader{ctx: ctx, f: f, want: h, hasher: blake3.New()}, nil
}

type reader struct {
	ctx    context.Context
	f      *os.File
	want   asset.Hash
	hasher *blake3.Hasher
}

func (r *reader) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := r.f.Read(p)
	r.hasher.Write(p[:n])
	if err == io.EOF {
		var got asset.Hash
		r.hasher.Sum(got[:0])
		if got != r.want {
			return n, &store.DamageError{Hash: r.want, Got: got}
		}
	}
	return n, err
}

func (r *reader) Close() error { return r.f.Close() }

// Has implements [store.Store].
func (s *Store) Has(ctx context.Context, h asset.Hash) (bool, error) {
	_, err := s.Stat(ctx, h)
	var missing *store.MissingError
	if errors.As(err, &missing) {
		return false, nil
	}
	return err == nil, err
}

// Stat implements [store.Store].
func (s *Store) Stat(_ context.Context, h asset.Hash) (store.Info, error) {
	info, err := os.Stat(s.Path(h))
	if errors.Is(err, fs.ErrNotExist) {
		return store.Info{}, &store.MissingError{Hash: h}
	}
	if err != nil {
		return store.Info{}, err
	}
	return store.Info{Hash: h, Size: info.Size()}, nil
}

// Walk implements [store.Store]. Names that are no hash are passed over; [Store.Strangers] lists them.
func (s *Store) Walk(ctx context.Context, f func(store.Info) error) error {
	return s.each(ctx, func(path string, h asset.Hash, ok bool, size int64) error {
		if !ok {
			return nil
		}
		return f(store.Info{Hash: h, Size: size})
	})
}

// Strangers returns the paths, relative to the store, of files that do not belong in one.
func (s *Store) Strangers(ctx context.Context) (paths []string, err error) {
	err = s.each(ctx, func(path string, _ asset.Hash, ok bool, _ int64) error {
		if !ok {
			paths = append(paths, path)
		}
		return nil
	})
	return paths, err
}

func (s *Store) each(ctx context.Context, f func(path string, h asset.Hash, ok bool, size int64) error) error {
	folders, err := os.ReadDir(s.dir)
	if err != nil {
		return err
	}
	for _, folder := range folders {
		if folder.Name() == incoming {
			continue
		}
		if !folder.IsDir() {
			if err := f(folder.Name(), asset.Hash{}, false, 0); err != nil {
				return err
			}
			continue
		}
		files, err := os.ReadDir(filepath.Join(s.dir, folder.Name()))
		if err != nil {
			return err
		}
		for _, file := range files {
			if err := ctx.Err(); err != nil {
				return err
			}
			info, err := file.Info()
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			if err != nil {
				return err
			}
			h, bad := asset.ParseHash(file.Name())
			own := bad == nil && info.Mode().IsRegular() && h.String() == file.Name() && file.Name()[:2] == folder.Name()
			if err := f(filepath.Join(folder.Name(), file.Name()), h, own, info.Size()); err != nil {
				return err
			}
		}
	}
	return nil
}

// Remove implements [store.Store].
func (s *Store) Remove(_ context.Context, h asset.Hash) error {
	path := s.Path(h)
	err := os.Remove(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return durable.SyncDir(filepath.Dir(path))
}

// Sweep removes unfinished files that a killed process left behind and that have not been written to since
// before. It returns how many there were.
func (s *Store) Sweep(before int64) (int, error) {
	dir := filepath.Join(s.dir, incoming)
	files, err := os.ReadDir(dir)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, file := range files {
		info, err := file.Info()
		if err != nil || info.ModTime().UnixMilli() >= before {
			continue
		}
		if err := os.Remove(filepath.Join(dir, file.Name())); err == nil {
			n++
		}
	}
	return n, nil
}
