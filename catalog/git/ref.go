package git

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"mien/catalog/durable"
)

// Branch is the one branch that records are added to.
const Branch = "refs/heads/main"

// ErrMoved says that the branch no longer points where the caller believed.
var ErrMoved = errors.New("records moved on")

// Head returns the newest commit. A repository has one from its first day, so a missing, empty or
// malformed branch is a [DamageError], never an empty history. It costs one read of 41 bytes.
func (r *Repo) Head() (Hash, error) {
	text, err := os.ReadFile(filepath.Join(r.dir, Branch))
	if errors.Is(err, fs.ErrNotExist) {
		text, err = r.packedRef()
	}
	if errors.Is(err, fs.ErrNotExist) {
		return Hash{}, &DamageError{Object: Branch, Fault: "is missing"}
	}
	if err != nil {
		return Hash{}, err
	}
	h, err := ParseHash(strings.TrimSuffix(string(text), "\n"))
	if err != nil || h.IsZero() {
		return Hash{}, &DamageError{Object: Branch, Fault: fmt.Sprintf("holds %.50q, allowed is the name of a commit", text)}
	}
	return h, nil
}

// packedRef reads the branch from the file into which a git client may have moved it.
func (r *Repo) packedRef() ([]byte, error) {
	text, err := os.ReadFile(filepath.Join(r.dir, "packed-refs"))
	if err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(bytes.NewReader(text))
	for lines.Scan() {
		if hash, name, ok := strings.Cut(lines.Text(), " "); ok && name == Branch {
			return []byte(hash), nil
		}
	}
	return nil, fs.ErrNotExist
}

// staleLock is how long a lock on the branch may stand while we hold the catalog's own lock. Only another
// git client takes it then, and holds it for milliseconds. Common practice, no source.
const staleLock = 250 * time.Millisecond

// move points the branch from one commit to the next: it claims main.lock, looks whether the branch is
// still where the caller saw it, and renames the lock over the branch. Lock, name and folder are synced.
// The caller holds the catalog's lock. A zero from says that there must be no branch yet.
func (r *Repo) move(from, to Hash) error {
	path := filepath.Join(r.dir, Branch)
	lock := path + ".lock"
	f, err := os.OpenFile(lock, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	for start := time.Now(); errors.Is(err, fs.ErrExist); {
		if time.Since(start) > staleLock {
			if err := os.Remove(lock); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
		time.Sleep(5 * time.Millisecond)
		f, err = os.OpenFile(lock, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	}
	if err != nil {
		return err
	}
	defer f.Close()
	if err := r.expect(from); err != nil {
		os.Remove(lock)
		return err
	}
	_, err = f.WriteString(to.String() + "\n")
	if err == nil {
		err = f.Sync()
	}
	if err == nil {
		err = f.Close()
	}
	if err == nil {
		err = os.Rename(lock, path)
	}
	if err != nil {
		os.Remove(lock)
		return err
	}
	return durable.SyncDir(filepath.Dir(path))
}

func (r *Repo) expect(from Hash) error {
	head, err := r.Head()
	if from.IsZero() {
		if err == nil {
			return ErrMoved
		}
		return nil
	}
	if err == nil && head != from {
		err = ErrMoved
	}
	return err
}
