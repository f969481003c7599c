package catalog

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"mien/catalog/durable"
	"mien/catalog/git"
	"mien/catalog/record"
	"mien/catalog/store/local"
)

// InitOptions are the choices of whoever starts a catalog. The zero value is usable.
type InitOptions struct {
	Site string           // name of this copy, "main" if empty; four random hex digits are added
	By   string           // code of the person who starts it, may be empty
	Now  func() time.Time // wall clock, time.Now if nil
}

// KindCreate is the kind of the first record of every catalog.
const KindCreate record.Kind = "catalog.create"

// Init makes a new catalog in dir, which must be empty or not exist, and opens it. The folder is readable by
// its owner only.
//
// It returns a [durable.PlaceError] if the place does not keep what a catalog needs, and an error naming
// what stands in dir if it is not empty. A run that was cut short is cleared away and begun again.
func Init(ctx context.Context, dir string, opts InitOptions) (*Catalog, error) {
	if opts.Now == nil {
		opts.Now = time.Now
	}
	if opts.Site == "" {
		opts.Site = "main"
	}
	var name [16]byte
	rand.Read(name[:])
	s := site{Format: Format, Site: newSiteName(opts.Site), Catalog: hex.EncodeToString(name[:])}
	if !record.ValidCode(s.Site) {
		return nil, fmt.Errorf("site %q: allowed are letters a to z, digits and inner hyphens, at most 58", opts.Site)
	}
	if err := claim(dir); err != nil {
		return nil, err
	}
	if err := durable.Probe(dir); err != nil {
		return nil, errors.Join(err, unclaim(dir))
	}
	if err := furnish(dir); err != nil {
		return nil, err
	}
	var err error
	if s.Place, err = placeOf(dir); err != nil {
		return nil, err
	}
	c, err := open(dir, s, Options{Now: opts.Now})
	if err != nil {
		return nil, err
	}
	if err := c.begin(ctx, opts.By); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	if err := s.write(dir); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	if err := unclaim(dir); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	return c, nil
}

// claim makes dir ours: it must be empty, or hold only what a run of init that was cut short left.
func claim(dir string) error {
	if err := durable.Mkdir(dir); err != nil {
		return err
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(dir, beganName)); err == nil {
		for _, name := range [...]string{siteName, recordsName, storeName, keysName, lockName, awaitedName} {
			if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
				return err
			}
		}
		return durable.Sweep(dir)
	}
	names, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	if len(names) > 0 {
		return fmt.Errorf("catalog %q: folder holds %q, allowed is an empty one", dir, names[0].Name())
	}
	return durable.Write(filepath.Join(dir, beganName), nil, 0o600)
}

func unclaim(dir string) error {
	if err := os.Remove(filepath.Join(dir, beganName)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return durable.SyncDir(dir)
}

// furnish makes the empty rooms of a catalog.
func furnish(dir string) error {
	if err := git.Init(filepath.Join(dir, recordsName)); err != nil {
		return err
	}
	if _, err := local.Init(filepath.Join(dir, storeName)); err != nil {
		return err
	}
	if err := durable.Mkdir(filepath.Join(dir, keysName)); err != nil {
		return err
	}
	if _, err := newKeyring(filepath.Join(dir, keysName)).make(catalogKey); err != nil {
		return err
	}
	return durable.Write(filepath.Join(dir, lockName), nil, 0o600)
}

// begin writes the record that every catalog starts with.
func (c *Catalog) begin(ctx context.Context, by string) error {
	type create struct {
		Catalog string `json:"catalog"`
		Format  int    `json:"format"`
	}
	return c.batch(ctx, true, func(b *Batch) error {
		_, err := b.Add(record.Draft{Kind: KindCreate, By: by, Open: create{c.site.Catalog, Format}})
		return err
	})
}
