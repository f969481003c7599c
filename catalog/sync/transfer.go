package sync

import (
	"context"
	"errors"
	"fmt"
	"io"

	"mien/asset"
	"mien/catalog"
	"mien/catalog/store"
)

// list reads what the store of a copy holds.
func list(ctx context.Context, c *catalog.Catalog) (*inventory, error) {
	v := &inventory{has: map[asset.Hash]bool{}}
	err := c.Store().Walk(ctx, func(info store.Info) error {
		v.items = append(v.items, item{info.Hash, info.Size})
		v.has[info.Hash] = true
		return nil
	})
	return v, err
}

// transfer copies files between two stores.
type transfer struct {
	report      *Report
	total, done int64
	progress    catalog.Progress
}

// run copies files. One that its own store has damaged or lost is a fault of the report and keeps no other
// from going.
func (t *transfer) run(ctx context.Context, from, to *catalog.Catalog, items []item) (files, bytes int64, err error) {
	for _, it := range items {
		err := t.one(ctx, from, to, it.hash)
		var damaged *store.DamageError
		var missing *store.MissingError
		switch {
		case errors.As(err, &damaged) || errors.As(err, &missing):
			t.report.Faults = append(t.report.Faults, catalog.Fault{Object: from.Dir(), Fault: err.Error()})
		case err != nil:
			return files, bytes, fmt.Errorf("sync: file %s to %s: %w", it.hash.Short(), to.Dir(), err)
		default:
			files++
			bytes += it.size
		}
	}
	return files, bytes, nil
}

func (t *transfer) one(ctx context.Context, from, to *catalog.Catalog, h asset.Hash) error {
	r, err := from.Store().Get(ctx, h)
	if err != nil {
		return err
	}
	defer r.Close()
	got, _, _, err := to.Store().Put(ctx, counted{r, t})
	if err == nil && got != h {
		err = &store.DamageError{Hash: h, Got: got}
	}
	return err
}

// counted tells the progress what passes.
type counted struct {
	io.Reader
	t *transfer
}

func (c counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	if n > 0 {
		c.t.done += int64(n)
		c.t.progress("files", c.t.done, c.t.total)
	}
	return n, err
}
