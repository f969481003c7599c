package catalog

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"mien/catalog/record"
)

// draft is an invented record about one of ten subjects.
func draft(i int) record.Draft {
	return record.Draft{
		Kind:    "subject.set",
		Subject: fmt.Sprintf("ath-%04d", i%10),
		By:      "manager-1",
		Open:    map[string]any{"tier": i%3 + 1, "squad": "north-harbour"},
		Sealed:  map[string]any{"name": fmt.Sprintf("Invented Person %d", i), "note": "scar above the left brow"},
	}
}

func drafts(n int) []record.Draft {
	out := make([]record.Draft, n)
	for i := range out {
		out[i] = draft(i)
	}
	return out
}

func start(t testing.TB) *Catalog {
	t.Helper()
	c, err := Init(context.Background(), filepath.Join(t.TempDir(), "cat"), InitOptions{Site: "studio"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func TestAppendAndRead(t *testing.T) {
	ctx := context.Background()
	c := start(t)
	ids, err := c.Append(ctx, drafts(25))
	if err != nil {
		t.Fatal(err)
	}
	again, err := Open(ctx, c.Dir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	for _, c := range []*Catalog{c, again} {
		entries, err := c.Entries(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if len(entries) != 26 || entries[0].Kind != KindCreate {
			t.Fatalf("%d entries, first %s", len(entries), entries[0].Kind)
		}
		for i, e := range entries[1:] {
			var sealed struct{ Name string }
			if err := json.Unmarshal(e.Sealed, &sealed); err != nil {
				t.Fatal(err)
			}
			if e.ID != ids[i] || e.NoKey || sealed.Name != fmt.Sprintf("Invented Person %d", i) {
				t.Fatalf("entry %d: %+v", i, e)
			}
		}
	}
}

func TestBatchSeesAndNamesItsOwn(t *testing.T) {
	ctx := context.Background()
	c := start(t)
	stop := errors.New("stop")
	for _, fail := range []error{stop, nil} {
		err := c.Batch(ctx, func(b *Batch) error {
			before, err := c.Entries(ctx)
			if err != nil || len(before) != 1 {
				t.Fatalf("%d entries, %v", len(before), err)
			}
			first, err := b.Add(draft(1))
			if err != nil {
				t.Fatal(err)
			}
			second := draft(2)
			second.After = []record.ID{first}
			if _, err := b.Add(second); err != nil {
				t.Fatal(err)
			}
			return fail
		})
		if err != fail {
			t.Fatal(err)
		}
	}
	entries, err := c.Entries(ctx)
	if err != nil || len(entries) != 3 || entries[2].After[0] != entries[1].ID {
		t.Fatalf("%d entries, %v", len(entries), err)
	}
}

func TestClockFollowsRecordsAcrossProcesses(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "cat")
	at := time.Date(2024, 3, 1, 9, 0, 0, 0, time.UTC)
	c, err := Init(ctx, dir, InitOptions{Now: func() time.Time { return at }})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Append(ctx, drafts(2)); err != nil {
		t.Fatal(err)
	}
	slow, err := Open(ctx, dir, Options{Now: func() time.Time { return at.Add(-time.Hour) }})
	if err != nil {
		t.Fatal(err)
	}
	defer slow.Close()
	if _, err := slow.Append(ctx, drafts(2)); err != nil {
		t.Fatal(err)
	}
	entries, err := slow.Entries(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range entries {
		if e.At.N != int64(i) || e.At.Ms != at.UnixMilli() {
			t.Errorf("entry %d at %+v", i, e.At)
		}
	}
}

// TestCopiedFolderIsASiteOfItsOwn copies a catalog folder, as people do, and lets both copies write.
func TestCopiedFolderIsASiteOfItsOwn(t *testing.T) {
	ctx := context.Background()
	c := start(t)
	if _, err := c.Append(ctx, drafts(3)); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "copy")
	if err := os.CopyFS(dir, os.DirFS(c.Dir())); err != nil {
		t.Fatal(err)
	}
	sites := map[string]bool{c.Site(): true}
	for range 2 {
		again, err := Open(ctx, dir, Options{})
		if err != nil {
			t.Fatal(err)
		}
		sites[again.Site()] = true
		if _, err := again.Append(ctx, drafts(1)); err != nil {
			t.Fatal(err)
		}
		if again.ID() != c.ID() || again.Site()[:7] != "studio-" {
			t.Errorf("catalog %s, site %s", again.ID(), again.Site())
		}
		again.Close()
	}
	stayed, err := Open(ctx, c.Dir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer stayed.Close()
	if stayed.Site() != c.Site() || len(sites) != 2 {
		t.Errorf("stayed as %s, was %s; sites %v", stayed.Site(), c.Site(), sites)
	}
	if rep := verify(t, dir); rep.Err() != nil || rep.Records != 6 {
		t.Errorf("%+v", rep)
	}
}

// TestOneHandleForManyGoroutines reads and appends through one open catalog at the same time.
func TestOneHandleForManyGoroutines(t *testing.T) {
	ctx := context.Background()
	c := start(t)
	const writers, each = 3, 12
	var wait sync.WaitGroup
	for range writers {
		wait.Go(func() {
			for range each {
				if _, err := c.Append(ctx, drafts(2)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for range 2 {
		wait.Go(func() {
			for last := 0; last < 2*writers*each+1 && !t.Failed(); {
				entries, err := c.Entries(ctx)
				if err != nil || len(entries) < last || !slices.IsSortedFunc(entries, record.Compare) {
					t.Errorf("%d entries after %d, %v", len(entries), last, err)
				}
				last = len(entries)
			}
		})
	}
	wait.Go(func() {
		for range 3 {
			if rep, err := c.Verify(ctx, nil); err != nil || rep.Err() != nil {
				t.Error(err, rep.Err())
			}
		}
	})
	wait.Wait()
}
