// Package durable makes file-system changes that survive a loss of power, and tells whether a place can
// keep that promise. It knows nothing of what is stored.
package durable

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/gofrs/flock"
)

// Mkdir creates dir and any missing parents with mode 0700 and makes their names durable.
func Mkdir(dir string) error {
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return nil
	}
	parent := filepath.Dir(dir)
	if parent != dir {
		if err := Mkdir(parent); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return SyncDir(parent)
}

// SyncDir makes the names in dir durable.
func SyncDir(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := f.Sync(); err != nil {
		return fmt.Errorf("sync folder %q: %w", dir, err)
	}
	return nil
}

// Write puts data under path as a whole or not at all, replacing what stood there: a temporary file beside
// it is written, synced and renamed, then the folder is synced.
func Write(path string, data []byte, mode fs.FileMode) error {
	dir := filepath.Dir(path)
	f, err := Temp(dir)
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(data); err != nil {
		return err
	}
	if err := f.Place(path, mode); err != nil {
		return err
	}
	return SyncDir(dir)
}

// tempPrefix begins the names of unfinished files, so that [Sweep] knows them.
const tempPrefix = "tmp_mien_"

// File is an unfinished file that becomes visible only through [File.Place].
type File struct {
	*os.File
	placed bool
}

// Temp creates an unfinished file in dir.
func Temp(dir string) (*File, error) {
	f, err := os.CreateTemp(dir, tempPrefix+"*")
	if err != nil {
		return nil, err
	}
	return &File{File: f}, nil
}

// Place syncs and closes the file and renames it to path, which must lie on the same file system.
// The new name is durable once the folder of path is synced.
func (f *File) Place(path string, mode fs.FileMode) error {
	if err := f.Chmod(mode); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	f.placed = true
	return nil
}

// Discard removes the file unless it was placed.
func (f *File) Discard() {
	if !f.placed {
		f.Close()
		os.Remove(f.Name())
	}
}

// Sweep removes unfinished files, and what a probe left, that a killed process made in dir. The caller holds the lock under which
// such files are made.
func Sweep(dir string) error {
	left, err := filepath.Glob(filepath.Join(dir, tempPrefix+"*"))
	if err != nil {
		return err
	}
	for _, name := range left {
		if err := os.RemoveAll(name); err != nil {
			return err
		}
	}
	return nil
}

// PlaceError says that a place does not keep the promises that a catalog needs.
type PlaceError struct {
	Dir   string
	Fault string
}

func (e *PlaceError) Error() string {
	return fmt.Sprintf("folder %q: %s: a catalog cannot be written here", e.Dir, e.Fault)
}

// Hint returns the next step.
func (e *PlaceError) Hint() string {
	return "make the catalog on a disk of this machine; a shared folder can be a place to sync with"
}

// Probe tries in dir what a catalog depends on: locks that exclude, names that can be claimed once,
// renames that replace, and syncing of files and folders. It returns a [PlaceError] naming the first thing
// that does not hold, as on many network shares, and leaves nothing behind.
func Probe(dir string) error {
	fault := func(what string, err error) error {
		if err != nil {
			what += ": " + err.Error()
		}
		return &PlaceError{Dir: dir, Fault: what}
	}
	room, err := os.MkdirTemp(dir, tempPrefix+"probe")
	if err != nil {
		return fault("no folder can be made", err)
	}
	defer os.RemoveAll(room)

	first, second := flock.New(filepath.Join(room, "lock")), flock.New(filepath.Join(room, "lock"))
	defer first.Close()
	defer second.Close()
	if ok, err := first.TryLock(); err != nil || !ok {
		return fault("file locks do not work", err)
	}
	if ok, err := second.TryLock(); err != nil || ok {
		return fault("file locks do not exclude each other", err)
	}
	a, b := filepath.Join(room, "a"), filepath.Join(room, "b")
	for _, name := range [...]string{a, b} {
		if err := Write(name, []byte(name), 0o600); err != nil {
			return fault("files or folders cannot be synced", err)
		}
	}
	if f, err := os.OpenFile(a, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600); err == nil {
		f.Close()
		return fault("a name can be claimed twice", nil)
	}
	if err := os.Rename(a, b); err != nil {
		return fault("a rename does not replace", err)
	}
	if got, err := os.ReadFile(b); err != nil || string(got) != a {
		return fault("a rename does not replace", err)
	}
	return nil
}
