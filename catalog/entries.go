package catalog

import (
	"context"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"mien/catalog/git"
	"mien/catalog/record"
)

// snapshot is what was read of the records up to a commit.
type snapshot struct {
	head    git.Hash
	keys    time.Time // when the folder of keys last changed
	entries []record.Entry
}

// Entries returns all records in the order of the fold: by stamp, then by id. The slice and what it holds
// must not be changed. A second call reads only what was added since.
//
// It returns a [DamageError] naming the first record that is missing or holds other bytes than its path says.
func (c *Catalog) Entries(ctx context.Context) ([]record.Entry, error) {
	c.reading.Lock()
	defer c.reading.Unlock()
	head, err := c.repo.Head()
	if err != nil {
		return nil, c.damage(err)
	}
	info, err := os.Stat(c.keys.dir)
	if err != nil {
		return nil, &DamageError{Object: keysName, Err: err}
	}
	if !info.ModTime().Equal(c.read.keys) {
		c.keys.forget()
		if c.reopens() {
			c.read = snapshot{}
		}
		c.read.keys = info.ModTime()
	}
	if head == c.read.head {
		return slices.Clip(c.read.entries), nil
	}
	added, lost, err := c.repo.Changes(ctx, c.read.head, head)
	if err != nil {
		return nil, c.damage(err)
	}
	entries := slices.Clip(c.read.entries)
	if len(lost) > 0 { // the branch was moved by hand to another history: read that one
		if added, _, err = c.repo.Changes(ctx, git.Hash{}, head); err != nil {
			return nil, c.damage(err)
		}
		entries = nil
	}
	fresh, err := c.decode(ctx, added)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(fresh, record.Compare)
	old := len(entries)
	entries = append(entries, fresh...)
	if old > 0 && len(fresh) > 0 && record.Compare(entries[old-1], fresh[0]) > 0 {
		slices.SortFunc(entries, record.Compare)
	}
	c.read.head, c.read.entries = head, entries
	return slices.Clip(entries), nil
}

// reopens reports whether a key that came or went changes which of the records read before can be opened.
func (c *Catalog) reopens() bool {
	asked := map[string]bool{}
	for i := range c.read.entries {
		e := &c.read.entries[i]
		name := owner(e.Subject)
		if e.Sealed == nil && !e.NoKey || asked[name] {
			continue
		}
		asked[name] = true
		if _, err := c.keys.get(name); (err == nil) == e.NoKey {
			return true
		}
	}
	return false
}

// chunk is how many records one worker takes at a time.
const chunk = 256

// decode reads records, several at a time, and returns them in the given order.
func (c *Catalog) decode(ctx context.Context, leaves []git.Leaf) ([]record.Entry, error) {
	if len(leaves) > chunk {
		if err := c.repo.Load(); err != nil {
			return nil, c.damage(err)
		}
		defer c.repo.Unload()
	}
	entries := make([]record.Entry, len(leaves))
	errs := make([]error, (len(leaves)+chunk-1)/chunk)
	next := make(chan int)
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(errs)) {
		wait.Go(func() {
			for k := range next {
				from, to := k*chunk, min((k+1)*chunk, len(leaves))
				errs[k] = c.decodeInto(entries[from:to], leaves[from:to])
			}
		})
	}
	for k := range errs {
		if ctx.Err() != nil {
			break
		}
		next <- k
	}
	close(next)
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return entries, nil
}

func (c *Catalog) decodeInto(entries []record.Entry, leaves []git.Leaf) error {
	for i, leaf := range leaves {
		text, err := c.repo.Blob(leaf.Hash)
		if err != nil {
			return c.damage(err)
		}
		e, err := record.Decode(text, c.keys)
		if err != nil {
			return &DamageError{Object: recordsName + " " + leaf.Path(), Fault: err.Error(), Err: err}
		}
		if own := e.Path(); !strings.HasSuffix(own, leaf.Name) || own != leaf.Path() {
			return &DamageError{Object: recordsName + " " + leaf.Path(), Fault: fmt.Sprintf("holds the record of %s", own)}
		}
		entries[i] = e
	}
	return nil
}
