package catalog

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"mien/asset"
	"mien/catalog/durable"
)

// awaitedName is the list of files that records of other sites name and that have not come here yet, and of
// those that an erasure removed here before a hold was heard of.
const awaitedName = "awaited"

// Awaited returns the files that records of other sites name and that have not come to this copy yet, and
// those that [Catalog.Await] added, in order of hash.
func (c *Catalog) Awaited() ([]asset.Hash, error) {
	text, err := os.ReadFile(filepath.Join(c.dir, awaitedName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var list []asset.Hash
	for line := range strings.Lines(string(text)) {
		h, err := asset.ParseHash(strings.TrimSuffix(line, "\n"))
		if err != nil {
			return nil, &DamageError{Object: awaitedName, Fault: fmt.Sprintf("line %d is no hash", len(list)+1)}
		}
		list = append(list, h)
	}
	return list, nil
}

// await adds the files that are not here to the list. The caller holds the lock.
func (c *Catalog) await(files []FileRef) error {
	list, err := c.Awaited()
	if err != nil {
		return err
	}
	known := len(list)
	for _, f := range files {
		here, err := c.store.Has(context.Background(), f.Hash)
		if err != nil {
			return err
		}
		if !here {
			list = append(list, f.Hash)
		}
	}
	if len(list) == known {
		return nil
	}
	return c.writeAwaited(list)
}

// Await adds those of the files that are not here to the list of awaited files.
func (c *Catalog) Await(ctx context.Context, files []FileRef) error {
	if len(files) == 0 {
		return nil
	}
	return c.locked(ctx, func() error { return c.await(files) })
}

// Arrived strikes off the list of awaited files those that are here, and those that drop says will never
// come. It returns how many are still awaited.
func (c *Catalog) Arrived(ctx context.Context, drop func(asset.Hash) bool) (left int, err error) {
	err = c.locked(ctx, func() error {
		list, err := c.Awaited()
		if err != nil || len(list) == 0 {
			return err
		}
		known := len(list)
		var still []asset.Hash
		for _, h := range list {
			here, err := c.store.Has(ctx, h)
			if err != nil {
				return err
			}
			if !here && !drop(h) {
				still = append(still, h)
			}
		}
		if left = len(still); left == known {
			return nil
		}
		return c.writeAwaited(still)
	})
	return left, err
}

func (c *Catalog) writeAwaited(list []asset.Hash) error {
	slices.SortFunc(list, compareHashes)
	list = slices.Compact(list)
	var text bytes.Buffer
	for _, h := range list {
		text.WriteString(h.String() + "\n")
	}
	return durable.Write(filepath.Join(c.dir, awaitedName), text.Bytes(), 0o600)
}

func compareHashes(a, b asset.Hash) int { return bytes.Compare(a[:], b[:]) }

func sortedHashes[V any](m map[asset.Hash]V) []asset.Hash {
	return slices.SortedFunc(maps.Keys(m), compareHashes)
}
