// Package loop joins the catalog and the comparison: it takes deliveries in, compares what came with
// the likeness before it, raises and meets requests, and says which game assets are out of date. It
// prints nothing. It is the only package that imports both sides.
package loop

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"mien/catalog"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/projection"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/catalog/roster"
)

// Options are how a catalog is worked with.
type Options struct {
	By  string // code of the person who acts
	Now func() time.Time
}

// Loop is an open catalog with its state. State shows what was recorded when it was last folded;
// every method that records folds again.
type Loop struct {
	Catalog  *catalog.Catalog
	State    *projection.State
	Problems []projection.Problem
	by       string
	cache    string // folder of rebuildable results and pictures
}

// Open opens the catalog in dir and folds its records.
func Open(ctx context.Context, dir string, o Options) (*Loop, error) {
	c, err := catalog.Open(ctx, dir, catalog.Options{Now: o.Now})
	if err != nil {
		return nil, err
	}
	l := &Loop{Catalog: c, by: o.By}
	if l.cache, err = cacheOf(c.ID()); err == nil {
		err = l.fold(ctx)
	}
	if err == nil {
		err = l.catchUp(ctx)
	}
	if err != nil {
		c.Close()
		return nil, err
	}
	return l, nil
}

// Close lets go of the catalog.
func (l *Loop) Close() error { return l.Catalog.Close() }

// cacheOf returns the folder of what can be computed again, which it makes.
func cacheOf(catalogID string) (string, error) {
	base := os.Getenv("MIEN_CACHE")
	if base == "" {
		user, err := os.UserCacheDir()
		if err != nil {
			return "", fmt.Errorf("cache: %w; set MIEN_CACHE to a folder", err)
		}
		base = filepath.Join(user, "mien")
	}
	dir := filepath.Join(base, catalogID)
	return dir, os.MkdirAll(dir, 0o700)
}

// fold reads the records and computes the state anew.
func (l *Loop) fold(ctx context.Context) error {
	entries, err := l.Catalog.Entries(ctx)
	if err != nil {
		return err
	}
	l.State, l.Problems = projection.Fold(entries)
	return nil
}

// Append records drafts, all or none, and folds again. It returns the ids of the records. What is about
// nobody on the roster, or about somebody who was erased meanwhile, is refused.
func (l *Loop) Append(ctx context.Context, drafts ...record.Draft) ([]record.ID, error) {
	if len(drafts) == 0 {
		return nil, nil
	}
	var ids []record.ID
	err := l.Catalog.Batch(ctx, func(b *catalog.Batch) error {
		entries, err := l.Catalog.Entries(ctx)
		if err != nil {
			return err
		}
		if len(entries) != l.State.Records {
			l.State, l.Problems = projection.Fold(entries)
		}
		joins := map[string]bool{} // by an earlier draft of the batch
		for _, d := range drafts {
			if err := l.State.Check(d); err != nil && !joins[d.Subject] {
				return err
			}
			joins[d.Subject] = joins[d.Subject] || d.Kind == roster.KindAdd || d.Kind == roster.KindProp
			id, err := b.Add(d)
			if err != nil {
				return err
			}
			ids = append(ids, id)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return ids, l.fold(ctx)
}

// By returns the code of the person who acts.
func (l *Loop) By() string { return l.by }

// May returns an error if the person who acts may not do a.
func (l *Loop) May(a people.Action) error { return l.State.People.May(l.by, a) }

// Policy returns the studio's numbers in force.
func (l *Loop) Policy() *policy.Policy { return l.State.Policy.Policy }

// Today returns the catalog's date.
func (l *Loop) Today() day.Day { return day.Of(l.Catalog.Now().UTC()) }

// Judge returns what requests are scored against today.
func (l *Loop) Judge() request.Context { return l.State.Judge(l.Today()) }

// usage returns an error about an argument.
func usage(format string, args ...any) error {
	return &fault.InvalidError{Object: "arguments", Fault: fmt.Sprintf(format, args...)}
}

// DayOr returns the date s, or today when s is empty.
func (l *Loop) DayOr(s string) day.Day {
	if s == "" {
		return l.Today()
	}
	return day.Day(s)
}
