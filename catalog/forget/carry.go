package forget

import (
	"context"
	"maps"
	"slices"

	"mien/asset"
	"mien/catalog"
	"mien/catalog/projection"
)

// Done is what [Holdings.CarryOut] did in one copy.
type Done struct {
	Subjects []string // whose key was destroyed, or whose files were removed, now
	Files    int
	Bytes    int64
	Held     []string // erased elsewhere, kept here while a hold stands
}

// CarryOut removes in one copy the files that only erased subjects used and destroys their keys, in this
// order: where the key is destroyed, the files are gone. It does nothing twice and may be repeated after it
// was cut short. A subject under a hold is left alone; if the hold was heard of only after the files had gone
// here, they are awaited from copies that still have them.
//
// Removing gives the bytes back to the disk; on a disk that writes elsewhere when it overwrites, as flash
// does, they may outlast this until it reuses them.
func (h *Holdings) CarryOut(ctx context.Context, c *catalog.Catalog) (*Done, error) {
	gone, held := h.Gone()
	done := &Done{Held: held}
	touched := map[string]bool{}
	for _, file := range slices.SortedFunc(maps.Keys(h.users), compare) {
		if !h.Erased(file) {
			continue
		}
		n, err := remove(ctx, c, file)
		if err != nil {
			return done, err
		}
		if n >= 0 {
			done.Files++
			done.Bytes += n
			for user := range h.users[file] {
				touched[user] = true
			}
		}
	}
	for _, code := range gone {
		destroyed, err := c.KeyDestroyed(code)
		if err != nil {
			return done, err
		}
		if destroyed {
			continue
		}
		if err := c.DestroyKey(ctx, code); err != nil {
			return done, err
		}
		touched[code] = true
	}
	done.Subjects = slices.Sorted(maps.Keys(touched))
	return done, h.await(ctx, c, held)
}

// await notes as awaited the files that an erasure removed in this copy and that are used after all, because
// a hold, or the refiling of a take to somebody else, came here later.
func (h *Holdings) await(ctx context.Context, c *catalog.Catalog, held []string) error {
	emptied := map[string]bool{}
	gone, _ := h.Gone()
	for _, code := range slices.Concat(gone, held) {
		destroyed, err := c.KeyDestroyed(code)
		if err != nil {
			return err
		}
		emptied[code] = destroyed
	}
	var files []catalog.FileRef
	for _, n := range h.named {
		went := emptied[n.subject]
		for user := range h.users[n.file.Hash] {
			went = went || emptied[user]
		}
		if went && !h.Erased(n.file.Hash) {
			files = append(files, n.file)
		}
	}
	return c.Await(ctx, files)
}

// Due reports whether an erasure that is known in a copy has not been carried out there. It reads one small
// file for each erased subject.
func Due(c *catalog.Catalog, state *projection.State) (bool, error) {
	for _, v := range state.Roster.List() {
		if !v.Erased || v.Hold {
			continue
		}
		if destroyed, err := c.KeyDestroyed(v.Code); err != nil || !destroyed {
			return err == nil, err
		}
	}
	return false, nil
}

// remove removes a file and returns its size, -1 if it was not here.
func remove(ctx context.Context, c *catalog.Catalog, file asset.Hash) (int64, error) {
	here, err := c.Store().Has(ctx, file)
	if err != nil || !here {
		return -1, err
	}
	info, err := c.Store().Stat(ctx, file)
	if err != nil {
		return -1, err
	}
	return info.Size, c.Store().Remove(ctx, file)
}
