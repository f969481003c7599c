package catalog

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"mien/catalog/record"
)

// Whoever takes both locks takes them in one order, whichever way round the copies are given.
func TestBothLocksAreTakenInOneOrder(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	a := start(t)
	b, err := a.Copy(ctx, filepath.Join(t.TempDir(), "copy"), "road", nil)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	var wait sync.WaitGroup
	for i := range 4 {
		one, two := a, b
		if i%2 == 1 {
			one, two = b, a
		}
		x, errX := Open(ctx, one.Dir(), Options{})
		y, errY := Open(ctx, two.Dir(), Options{})
		if err := errors.Join(errX, errY); err != nil {
			t.Fatal(err)
		}
		defer x.Close()
		defer y.Close()
		wait.Go(func() {
			for range 100 {
				if err := lockBoth(ctx, x, y, func() error { return nil }); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	wait.Wait()
}

// Keys that two sites made for one subject end up in both, the same file; a destroyed key stays destroyed
// and its other copies stay where they are.
func TestShareKeys(t *testing.T) {
	ctx := context.Background()
	a := start(t)
	b, err := a.Copy(ctx, filepath.Join(t.TempDir(), "copy"), "road", nil)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	note := func(c *Catalog, subject string) {
		t.Helper()
		if _, err := c.Append(ctx, []record.Draft{{Kind: "subject.set", Subject: subject, Open: struct{}{}, Sealed: map[string]any{"note": subject}}}); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []*Catalog{a, b} {
		note(c, "ath-0001")
	}
	note(a, "ath-0002")
	note(b, "ath-0003")
	note(a, "ath-0004")
	if _, err := a.Meet(ctx, b, nil); err != nil {
		t.Fatal(err)
	}
	if err := b.DestroyKey(ctx, "ath-0004"); err != nil {
		t.Fatal(err)
	}
	skip := func(subject string) bool { return subject == "ath-0003" }
	if came, went, err := a.ShareKeys(ctx, b, skip, false); came != 2 || went != 3 || err != nil { // the catalog's own, too
		t.Errorf("would give %d and %d, %v", came, went, err)
	}
	if came, went, err := a.ShareKeys(ctx, b, skip, true); came != 2 || went != 3 || err != nil {
		t.Errorf("gave %d and %d, %v", came, went, err)
	}
	if came, went, err := a.ShareKeys(ctx, b, skip, true); came != 0 || went != 0 || err != nil {
		t.Errorf("gave %d and %d again, %v", came, went, err)
	}
	closed := func(c *Catalog) (subjects []string) {
		entries, err := c.Entries(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.NoKey {
				subjects = append(subjects, e.Subject)
			}
		}
		return subjects
	}
	if s := closed(a); len(s) != 1 || s[0] != "ath-0003" {
		t.Errorf("closed here: %v", s)
	}
	if s := closed(b); len(s) != 1 || s[0] != "ath-0004" {
		t.Errorf("closed there: %v", s)
	}
	for _, c := range []*Catalog{a, b} {
		if rep := verify(t, c.Dir()); rep.Err() != nil {
			t.Errorf("%+v", rep)
		}
	}
}
