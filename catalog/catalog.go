// Package catalog is the lasting memory of a department: immutable records in a git history, files in a
// content-addressed store, and one key for each subject, all in one folder. FORMAT.md describes every byte.
//
// A catalog only ever grows: what is true is a fold of all records, see the packages below this one. Any
// number of processes may read and add at the same time.
package catalog

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/gofrs/flock"

	"mien/catalog/git"
	"mien/catalog/record"
	"mien/catalog/store"
	"mien/catalog/store/local"
)

// Options are how a catalog is opened. The zero value is usable.
type Options struct {
	Now func() time.Time // wall clock, time.Now if nil
}

// Catalog is an open catalog. It is safe for use by several goroutines.
type Catalog struct {
	dir   string
	site  site
	now   func() time.Time
	repo  *git.Repo
	store store.Store
	keys  *keyring

	writing sync.Mutex // held with the file lock
	clock   *record.Clock
	seen    git.Hash // the commit up to which clock has observed

	reading sync.Mutex
	read    snapshot
}

// Open opens the catalog in dir.
//
// It returns [ErrNoCatalog] if there never was one, and a [DamageError] if there was one and a part that
// it cannot do without is missing.
func Open(ctx context.Context, dir string, opts Options) (*Catalog, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	s, err := readSite(dir)
	if err != nil {
		return nil, err
	}
	if err := whole(dir); err != nil {
		return nil, err
	}
	if s, err = settle(ctx, dir, s); err != nil {
		return nil, err
	}
	c, err := open(dir, s, opts)
	if err != nil {
		return nil, err
	}
	if _, err := c.repo.Head(); err != nil {
		return nil, errors.Join(c.damage(err), c.Close())
	}
	return c, nil
}

// whole checks that no part is missing without which a catalog cannot be opened.
func whole(dir string) error {
	for _, name := range [...]string{recordsName, storeName, keysName, keysName + "/" + catalogKey + ".key", lockName} {
		if _, err := os.Stat(filepath.Join(dir, filepath.FromSlash(name))); errors.Is(err, fs.ErrNotExist) {
			return &DamageError{Object: name, Fault: "is missing"}
		} else if err != nil {
			return err
		}
	}
	return nil
}

func open(dir string, s site, opts Options) (*Catalog, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	c := &Catalog{dir: dir, site: s, now: opts.Now, keys: newKeyring(filepath.Join(dir, keysName))}
	if c.now == nil {
		c.now = time.Now
	}
	c.clock = record.NewClock(s.Site, c.now)
	if c.store, err = local.Open(filepath.Join(dir, storeName)); err != nil {
		return nil, &DamageError{Object: storeName, Err: err}
	}
	if c.repo, err = git.Open(filepath.Join(dir, recordsName)); err != nil {
		return nil, c.damage(err)
	}
	return c, nil
}

// Close lets go of the open files. The catalog must not be used afterwards.
func (c *Catalog) Close() error { return c.repo.Close() }

// Dir returns the absolute path of the catalog's folder.
func (c *Catalog) Dir() string { return c.dir }

// Site returns the name of this copy of the catalog, which stands in every record written here.
func (c *Catalog) Site() string { return c.site.Site }

// ID returns the name of the catalog, the same at every site.
func (c *Catalog) ID() string { return c.site.Catalog }

// Now returns the time by the catalog's wall clock.
func (c *Catalog) Now() time.Time { return c.now() }

// Store returns the home of the files.
func (c *Catalog) Store() store.Store { return c.store }

// DestroyKey makes all sealed bodies about a subject unreadable here, for ever, and lets nothing more be
// sealed about it. Other sites do the same when the record of the erasure reaches them.
func (c *Catalog) DestroyKey(ctx context.Context, subject string) error {
	if !record.ValidCode(subject) || subject == catalogKey {
		return errors.New("subject " + subject + ": has no key of its own")
	}
	return c.locked(ctx, func() error {
		c.reading.Lock()
		defer c.reading.Unlock()
		c.read = snapshot{}
		return c.keys.destroy(subject, c.now())
	})
}

// damage gives an error of the records a name that holds for the whole catalog.
func (c *Catalog) damage(err error) error {
	var d *git.DamageError
	if errors.As(err, &d) {
		return &DamageError{Object: recordsName + " " + d.Object, Fault: d.Fault, Err: err}
	}
	return err
}

// lockWait is how often a waiting process asks for the lock.
const lockWait = 2 * time.Millisecond

// locked runs f while no other process changes the catalog.
func (c *Catalog) locked(ctx context.Context, f func() error) error {
	c.writing.Lock()
	defer c.writing.Unlock()
	lock := flock.New(filepath.Join(c.dir, lockName), flock.SetFlag(os.O_RDWR))
	if _, err := lock.TryLockContext(ctx, lockWait); err != nil {
		return err
	}
	defer lock.Close()
	return f()
}
