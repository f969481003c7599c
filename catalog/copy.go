package catalog

import (
	"context"
	"errors"
	"fmt"

	"mien/catalog/durable"
	"mien/catalog/git"
	"mien/catalog/record"
)

// Copy makes another copy of the catalog in dir, which must be empty or not exist, and opens it. It holds all
// records and no files yet, has a site name of its own, four random hex digits added to site, and a key for
// what is about no subject, but none of this copy's keys: what is sealed here stays closed there.
//
// Errors are those of [Init]. A run that was cut short is cleared away and begun again.
func (c *Catalog) Copy(ctx context.Context, dir, site string, progress Progress) (*Catalog, error) {
	if progress == nil {
		progress = func(string, int64, int64) {}
	}
	s := c.site
	s.Site, s.Place = newSiteName(site), ""
	if !record.ValidCode(s.Site) {
		return nil, fmt.Errorf("site %q: allowed are letters a to z, digits and inner hyphens, at most 58", site)
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
	n, err := open(dir, s, Options{Now: c.now})
	if err != nil {
		return nil, err
	}
	if err := n.fill(ctx, c, progress); err != nil {
		return nil, errors.Join(err, n.Close())
	}
	if err := s.write(dir); err != nil {
		return nil, errors.Join(err, n.Close())
	}
	if err := unclaim(dir); err != nil {
		return nil, errors.Join(err, n.Close())
	}
	return n, nil
}

// fill copies all records of another copy into this empty one.
func (c *Catalog) fill(ctx context.Context, from *Catalog, progress Progress) error {
	head, err := from.repo.Head()
	if err != nil {
		return from.damage(err)
	}
	entries, err := from.Entries(ctx)
	if err != nil {
		return err
	}
	count := func(objects int) { progress("records", int64(objects), int64(max(objects, len(entries)))) }
	if _, err := c.repo.Receive(ctx, from.repo, head, count); err != nil {
		return from.damage(err)
	}
	var files []FileRef
	for i := range entries {
		files = append(files, Files(entries[i])...)
	}
	return c.locked(ctx, func() error {
		if err := c.await(files); err != nil {
			return err
		}
		if err := c.repo.Advance(git.Hash{}, head); err != nil {
			return c.damage(err)
		}
		return c.repo.Received(head)
	})
}
