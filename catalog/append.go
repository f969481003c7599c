package catalog

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"mien/catalog/git"
	"mien/catalog/record"
)

// Append records drafts, all or none, and returns their ids in the same order. When it returns, they are
// durable. A batch of any size costs one commit.
func (c *Catalog) Append(ctx context.Context, drafts []record.Draft) ([]record.ID, error) {
	if len(drafts) == 0 {
		return nil, nil
	}
	ids := make([]record.ID, 0, len(drafts))
	err := c.Batch(ctx, func(b *Batch) error {
		for _, d := range drafts {
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
	return ids, nil
}

// Batch gathers records that stand or fall together.
type Batch struct {
	c     *Catalog
	files []git.File
	kinds []record.Kind
	last  record.Stamp
}

// Add stamps and seals a draft and returns its id, so that later drafts of the batch can name it. The
// record does not exist before the batch is done.
func (b *Batch) Add(d record.Draft) (record.ID, error) {
	at := b.c.clock.Next()
	text, id, err := record.Encode(d, at, b.c.keys)
	if err != nil {
		return record.ID{}, err
	}
	e := record.Entry{ID: id, At: at}
	b.files = append(b.files, git.File{Path: e.Path(), Data: text})
	b.kinds = append(b.kinds, d.Kind)
	b.last = at
	return id, nil
}

// Batch calls f while no other process can add records, and then records what f added, as a whole. If f
// returns an error, nothing is recorded and Batch returns that error. Within f, [Catalog.Entries] shows all
// records before the batch, so f may decide by what is true at that moment; it should not take long.
func (c *Catalog) Batch(ctx context.Context, f func(b *Batch) error) error {
	return c.batch(ctx, false, f)
}

func (c *Catalog) batch(ctx context.Context, first bool, f func(b *Batch) error) error {
	return c.locked(ctx, func() error {
		var head git.Hash
		if !first {
			var err error
			if head, err = c.repo.Head(); err != nil {
				return c.damage(err)
			}
			if err := c.observe(head); err != nil {
				return c.damage(err)
			}
			c.keys.forget()
		}
		b := &Batch{c: c}
		if err := f(b); err != nil || len(b.files) == 0 {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		commit, err := c.repo.Append(head, git.Batch{
			Files: b.files, Author: c.site.Site, When: b.last.Time(), Message: message(b.kinds),
		})
		if err != nil {
			return c.damage(err)
		}
		c.seen = commit
		// The records stand. A pack that cannot be rolled up stays as it is; verify names its damage.
		var damaged *git.DamageError
		if err := c.repo.RollUp(); err != nil && !errors.As(err, &damaged) {
			return fmt.Errorf("records are stored, their packs could not be rolled up: %w", err)
		}
		return nil
	})
}

// observe makes the clock follow every record up to a commit. It reads the newest name of each site.
func (c *Catalog) observe(head git.Hash) error {
	if head == c.seen {
		return nil
	}
	sites, err := c.repo.Folders(head, "e")
	if err != nil {
		return err
	}
	limit := c.now().Add(record.SkewCap).UnixMilli()
	for _, site := range sites {
		near := func(name string) bool {
			at, _, err := record.ParseName(name)
			return err == nil && (site == c.site.Site || at.Ms <= limit)
		}
		later := func(a, b string) int {
			x, _, _ := record.ParseName(a)
			y, _, _ := record.ParseName(b)
			return x.Compare(y)
		}
		path, err := c.repo.Last(head, "e/"+site, near, later)
		if err != nil {
			return err
		}
		if path == "" {
			continue
		}
		at, _, err := record.ParsePath(path)
		if err != nil {
			return &DamageError{Object: recordsName + " " + path, Fault: "not the path of a record", Err: err}
		}
		c.clock.Observe(at)
	}
	c.seen = head
	return nil
}

// message says what a batch holds, for people who read the history with a git client: counts and kinds.
func message(kinds []record.Kind) string {
	sorted := slices.Sorted(slices.Values(kinds))
	var parts []string
	for i := 0; i < len(sorted); {
		j := i
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		parts = append(parts, fmt.Sprintf("%d %s", j-i, sorted[i]))
		i = j
	}
	word := "records"
	if len(kinds) == 1 {
		word = "record"
	}
	subject := fmt.Sprintf("%d %s: %s", len(kinds), word, strings.Join(parts, ", "))
	if len(kinds) == 1 {
		subject = "1 record: " + string(kinds[0])
	}
	if len(subject) <= 72 {
		return subject
	}
	return fmt.Sprintf("%d records of %d kinds\n\n%s", len(kinds), len(parts), strings.Join(parts, "\n"))
}
