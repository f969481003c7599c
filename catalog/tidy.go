package catalog

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"mien/asset"
	"mien/catalog/store"
)

// Grace is how long a file that no record names is kept: an intake stores its files before it records them,
// and somebody may want to undo what made a file superfluous. Common practice, no source.
const Grace = 14 * 24 * time.Hour

// leftover is the age from which on an unfinished file was left behind. Common practice, no source.
const leftover = 24 * time.Hour

// TidyOptions are the choices of [Catalog.Tidy]. The zero value only says what there would be to do.
type TidyOptions struct {
	Write bool // do it
	Drop  bool // also remove files that no record has named for [Grace]
}

// Tidied is what [Catalog.Tidy] found, and did if it was to write.
type Tidied struct {
	Packs     int       // of records, before
	Fewer     int       // packs that were rolled up
	Leftovers []string  // unfinished files of killed processes, relative to the catalog
	Unnamed   []OldFile // files that no record has named for Grace
	Young     int       // files that no record names yet, younger than Grace
	Dropped   int       // of Unnamed
}

// OldFile is a stored file that no record names.
type OldFile struct {
	Hash  asset.Hash `json:"hash"`
	Size  int64      `json:"size"`
	Since time.Time  `json:"since"` // last written or stored again
}

// Tidy rolls up packs of records, removes what killed processes left, and finds files of the store that no
// record names. Whatever it removes, nothing needs: records are never removed, and a file goes only if it
// was neither named nor stored again for [Grace] by the file system's times.
func (c *Catalog) Tidy(ctx context.Context, o TidyOptions) (*Tidied, error) {
	t := &Tidied{Packs: c.repo.Packs()}
	err := c.locked(ctx, func() error {
		if err := c.leftovers(t, o.Write); err != nil {
			return err
		}
		if err := c.unnamed(ctx, t); err != nil {
			return err
		}
		if !o.Write {
			return nil
		}
		var err error
		if t.Fewer, err = c.repo.Tidy(); err != nil {
			return c.damage(err)
		}
		for _, f := range t.Unnamed {
			if !o.Drop {
				break
			}
			if err := c.store.Remove(ctx, f.Hash); err != nil {
				return err
			}
			t.Dropped++
		}
		return nil
	})
	return t, err
}

// leftovers lists unfinished files that have not been written to for a day, and removes them.
func (c *Catalog) leftovers(t *Tidied, remove bool) error {
	now := time.Now() // by the clock that sets the times of files
	for _, pattern := range [...]string{"tmp_mien_*", keysName + "/tmp_mien_*", quarantineName + "/tmp_mien_*", storeName + "/incoming/*",
		recordsName + "/objects/tmp_mien_*", recordsName + "/objects/pack/tmp_mien_*", recordsName + "/incoming/*"} {
		names, err := filepath.Glob(filepath.Join(c.dir, filepath.FromSlash(pattern)))
		if err != nil {
			return err
		}
		for _, name := range names {
			info, err := os.Stat(name)
			if err != nil || now.Sub(info.ModTime()) < leftover {
				continue
			}
			rel, err := filepath.Rel(c.dir, name)
			if err != nil {
				return err
			}
			t.Leftovers = append(t.Leftovers, filepath.ToSlash(rel))
			if !remove {
				continue
			}
			if err := os.RemoveAll(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	return nil
}

// unnamed lists the files that no record names. The caller holds the lock, so no record is on its way.
func (c *Catalog) unnamed(ctx context.Context, t *Tidied) error {
	entries, err := c.Entries(ctx)
	if err != nil {
		return err
	}
	named := map[asset.Hash]bool{}
	for i := range entries {
		for _, h := range Mentions(entries[i]) {
			named[h] = true
		}
	}
	paths, ok := c.store.(store.Pather)
	now := time.Now()
	return c.store.Walk(ctx, func(info store.Info) error {
		if named[info.Hash] || !ok {
			return nil
		}
		stat, err := os.Stat(paths.Path(info.Hash))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		if now.Sub(stat.ModTime()) < Grace {
			t.Young++
			return nil
		}
		t.Unnamed = append(t.Unnamed, OldFile{info.Hash, info.Size, stat.ModTime()})
		return nil
	})
}
