// Package sync lets two copies of one catalog meet, of which one may be on a disk that travels or on a
// share: afterwards both hold all records, and all files that are wanted, of both.
package sync

import (
	"context"
	"errors"
	"fmt"
	"os"

	"mien/asset"
	"mien/catalog"
	"mien/catalog/forget"
	"mien/catalog/projection"
)

// Options are the choices of a sync. The zero value brings records and files both ways, and no keys.
type Options struct {
	RecordsOnly bool   // leave the files where they are
	WithKeys    bool   // whoever holds the other copy can then read what is sealed in it
	Site        string // name of a copy that has to be made, "copy" if empty
	Progress    catalog.Progress
}

// Report is what a sync did, the document `mien.sync/1`.
type Report struct {
	Schema     string          `json:"schema"`
	Remote     string          `json:"remote"`
	Site       string          `json:"site"`
	RemoteSite string          `json:"remote_site"`
	Made       bool            `json:"made"` // the other copy was made now
	Records    Both            `json:"records"`
	Files      Both            `json:"files"`
	Bytes      Both            `json:"bytes"`
	Keys       Both            `json:"keys"`         // subjects whose keys were given, or would be with the keys
	KeysMoved  bool            `json:"keys_moved"`   // they were given
	Awaited    Both            `json:"awaited"`      // files that neither copy has, or that were left where they are
	Erased     []string        `json:"erased"`       // subjects whose erasure was carried out in either copy now
	Held       []string        `json:"held"`         // erased at another site, kept in this copy while a hold stands
	Far        []string        `json:"far"`          // records written well ahead of this machine's clock
	Aside      []catalog.Aside `json:"set_aside"`    // what the other copy holds in place of records
	Faults     []catalog.Fault `json:"faults"`       // files that could not be read in one of the copies
	Total      int             `json:"record_count"` // in this copy, afterwards
}

// Both counts what came to this copy and what went to the other one.
type Both struct {
	Came int64 `json:"came"`
	Went int64 `json:"went"`
}

// Err returns a [catalog.DamageError] if the other copy was tampered with or a file could not be read.
func (r *Report) Err() error {
	switch {
	case len(r.Aside) > 0:
		return &catalog.DamageError{Object: r.Remote + ": " + r.Aside[0].Path,
			Fault: fmt.Sprintf("%s (%d set aside; nothing was written to that copy)", r.Aside[0].Fault, len(r.Aside))}
	case len(r.Faults) > 0:
		return &catalog.DamageError{Object: r.Faults[0].Object, Fault: r.Faults[0].Fault}
	}
	return nil
}

// Run lets c meet the copy in the folder remote. An empty or missing folder becomes a copy of c first.
//
// Records go first. Then erasures that either copy has not carried out yet are carried out in it, keys are
// given if that is asked for, and each copy gets the files that it lacks and the other one has, every one
// checked against its hash as it passes. A run that was cut short leaves both copies whole; the next one
// goes on with the first file that is still missing.
//
// It returns a [catalog.OtherCatalogError] if remote holds a copy of another catalog. Damage in remote is in
// the report, see [Report.Err].
func Run(ctx context.Context, c *catalog.Catalog, remote string, o Options) (*Report, error) {
	if o.Progress == nil {
		o.Progress = func(string, int64, int64) {}
	}
	if c.SameFolder(remote) {
		return nil, fmt.Errorf("sync with %s: is this very catalog, allowed is another copy of it or an empty folder", remote)
	}
	r := &Report{Schema: "mien.sync/1", Remote: remote, Site: c.Site(), Erased: []string{}, Held: []string{},
		Far: []string{}, Aside: []catalog.Aside{}, Faults: []catalog.Fault{}}
	other, err := reach(ctx, c, remote, o, r)
	if err != nil {
		return nil, err
	}
	defer other.Close()
	r.RemoteSite = other.Site()
	met, err := c.Meet(ctx, other, o.Progress)
	if err != nil {
		return nil, err
	}
	r.Records.Came, r.Records.Went = int64(met.Came), r.Records.Went+int64(met.Went)
	r.Far = append(r.Far, met.Far...)
	r.Aside = append(r.Aside, met.Aside...)

	entries, err := c.Entries(ctx)
	if err != nil {
		return nil, err
	}
	r.Total = len(entries)
	state, _ := projection.Fold(entries)
	h := forget.Of(entries, state)
	copies := []*catalog.Catalog{c, other}
	if len(r.Aside) > 0 {
		copies = copies[:1] // nothing is written to a copy that was tampered with
	}
	for i, side := range copies {
		done, err := h.CarryOut(ctx, side)
		if err != nil {
			return nil, err
		}
		r.erased(done, i == 0)
	}
	if len(r.Aside) > 0 {
		return r, nil
	}
	if err := keys(ctx, c, other, h, o, r); err != nil {
		return nil, err
	}
	if !o.RecordsOnly {
		if err := files(ctx, c, other, h, o, r); err != nil {
			return nil, err
		}
	}
	for i, side := range copies {
		left, err := side.Arrived(ctx, h.Erased)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			r.Awaited.Came = int64(left)
		} else {
			r.Awaited.Went = int64(left)
		}
	}
	return r, nil
}

// reach opens the other copy, or makes it.
func reach(ctx context.Context, c *catalog.Catalog, remote string, o Options, r *Report) (*catalog.Catalog, error) {
	other, err := catalog.Open(ctx, remote, catalog.Options{Now: c.Now})
	if !errors.Is(err, catalog.ErrNoCatalog) {
		if err != nil {
			return nil, fmt.Errorf("sync with %s: %w", remote, err)
		}
		return other, nil
	}
	var none *catalog.NoCatalogError
	if errors.As(err, &none) && !none.Unfinished {
		if names, err := os.ReadDir(remote); err == nil && len(names) > 0 {
			return nil, fmt.Errorf("sync with %s: holds %q and no copy of a catalog, allowed is an empty folder or a copy of this one", remote, names[0].Name())
		}
	}
	if o.Site == "" {
		o.Site = "copy"
	}
	if other, err = c.Copy(ctx, remote, o.Site, o.Progress); err != nil {
		return nil, err
	}
	r.Made = true
	entries, err := other.Entries(ctx)
	r.Records.Went = int64(len(entries))
	return other, err
}

func (r *Report) erased(done *forget.Done, here bool) {
	for _, code := range done.Subjects {
		known := false
		for _, e := range r.Erased {
			known = known || e == code
		}
		if !known {
			r.Erased = append(r.Erased, code)
		}
	}
	if here {
		r.Held = append(r.Held, done.Held...)
	}
}

func keys(ctx context.Context, c, other *catalog.Catalog, h *forget.Holdings, o Options, r *Report) error {
	gone, held := h.Gone()
	skip := map[string]bool{}
	for _, code := range append(gone, held...) {
		skip[code] = true
	}
	came, went, err := c.ShareKeys(ctx, other, func(subject string) bool { return skip[subject] }, o.WithKeys)
	r.Keys, r.KeysMoved = Both{int64(came), int64(went)}, o.WithKeys && came+went > 0
	return err
}

// files gives each copy the files that it lacks, the other has, and a record names.
func files(ctx context.Context, c, other *catalog.Catalog, h *forget.Holdings, o Options, r *Report) error {
	own, err := list(ctx, c)
	if err != nil {
		return err
	}
	theirs, err := list(ctx, other)
	if err != nil {
		return err
	}
	var come, leave []item
	var total int64
	for _, side := range [...]struct {
		from, to *inventory
		list     *[]item
	}{{theirs, own, &come}, {own, theirs, &leave}} {
		for _, it := range side.from.items {
			if !side.to.has[it.hash] && h.Named(it.hash) && !h.Erased(it.hash) {
				*side.list = append(*side.list, it)
				total += it.size
			}
		}
	}
	t := &transfer{report: r, total: total, progress: o.Progress}
	if r.Files.Came, r.Bytes.Came, err = t.run(ctx, other, c, come); err != nil {
		return err
	}
	r.Files.Went, r.Bytes.Went, err = t.run(ctx, c, other, leave)
	return err
}

// item is a file of a store.
type item struct {
	hash asset.Hash
	size int64
}

// inventory is what a store holds, in order of hash.
type inventory struct {
	items []item
	has   map[asset.Hash]bool
}
