package git

import (
	"cmp"
	"crypto/sha1"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// maxPacks is how many packs may stand before the small ones are rolled up: each costs every reader two
// opened files. Common practice, no source.
const maxPacks = 20

// RollUp merges small packs into one once there are too many. It takes the smallest ones, and each next
// one that is not more than twice as large as those before it together, so that over time every object is
// copied a number of times that grows with the logarithm of the history. Objects are copied as they stand.
// The new pack is durable, read back and checked before an old one goes. The caller holds the catalog's lock.
func (r *Repo) RollUp() error {
	_, err := r.rollUp(maxPacks)
	return err
}

// Tidy rolls up packs however few there are, as far as their sizes make it worth copying, and removes what
// killed processes left. It returns by how many packs the repository shrank. The caller holds the
// catalog's lock.
func (r *Repo) Tidy() (fewer int, err error) {
	if err := r.sweep(); err != nil {
		return 0, err
	}
	for _, pattern := range [...]string{"objects/tmp_mien_*", incoming + "/*"} {
		if err := r.clear(pattern, time.Now().Add(-abandoned)); err != nil {
			return 0, err
		}
	}
	before, err := r.rollUp(1)
	return before - len(r.obj.list()), err
}

// abandoned is the age from which on what a sync left half done is given up. Common practice, no source.
const abandoned = 24 * time.Hour

// clear removes files of the repository that have not been written to since before.
func (r *Repo) clear(pattern string, before time.Time) error {
	names, err := filepath.Glob(filepath.Join(r.dir, filepath.FromSlash(pattern)))
	if err != nil {
		return err
	}
	for _, name := range names {
		if info, err := os.Stat(name); err != nil || info.ModTime().After(before) {
			continue
		}
		if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// Packs returns how many packs there are.
func (r *Repo) Packs() int { return len(r.obj.list()) }

// rollUp is [Repo.RollUp] from more than limit packs on. It returns how many there were.
func (r *Repo) rollUp(limit int) (before int, err error) {
	packs := r.obj.list()
	before = len(packs)
	if before <= limit {
		return before, nil
	}
	slices.SortStableFunc(packs, func(a, b *pack) int { return cmp.Compare(a.body.size, b.body.size) })
	w := newPackWriter()
	var merged []*pack
	total := int64(0)
	for _, p := range packs {
		if len(merged) >= max(2, limit/2) && p.body.size > 2*total || total+p.body.size > maxPack/2 {
			break
		}
		plain, err := w.absorb(p)
		if err != nil {
			return before, &DamageError{Object: p.name, Fault: err.Error()}
		}
		if plain {
			merged = append(merged, p)
			total += p.body.size
		}
	}
	if len(merged) < 2 {
		return before, nil
	}
	name, err := w.place(r.obj.folder())
	if err != nil {
		return before, err
	}
	if err := reread(r.obj.folder(), name, w.objects); err != nil {
		return before, err
	}
	for _, p := range merged {
		if p.name == name {
			continue
		}
		for _, suffix := range [...]string{".idx", ".pack"} {
			if err := os.Remove(filepath.Join(r.obj.folder(), p.name+suffix)); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return before, err
			}
		}
	}
	return before, r.obj.refresh()
}

// absorb copies all objects of a pack. It copies nothing and returns false if the pack holds changes to
// base objects, which cannot be moved alone.
func (w *packWriter) absorb(p *pack) (bool, error) {
	if err := p.load(); err != nil {
		return false, err
	}
	defer p.index.data.Store(nil)
	defer p.body.data.Store(nil)
	objects, err := p.entries()
	if err != nil {
		return false, err
	}
	for _, o := range objects {
		if hd, err := p.head(o.offset); err != nil || hd.typ.IsDelta() {
			return false, err
		}
	}
	end := p.body.size - sha1.Size
	for i, o := range objects {
		to := end
		if i+1 < len(objects) {
			to = objects[i+1].offset
		}
		if to <= o.offset {
			return false, fmt.Errorf("object %s: ends at byte %d, begins at %d", o.hash, to, o.offset)
		}
		packed, err := p.body.at(o.offset, int(to-o.offset))
		if err != nil {
			return false, err
		}
		if crc32.ChecksumIEEE(packed) != o.crc {
			return false, fmt.Errorf("object %s: bytes do not match their check sum", o.hash.Short())
		}
		w.copy(o.hash, packed)
	}
	return true, nil
}

// reread checks that a new pack holds on disk what was written: the bytes that gave it its name, and an
// index that says the same of the same objects.
func reread(folder, name string, objects []indexed) error {
	p, err := openPack(folder, name)
	if err != nil {
		return err
	}
	defer p.close()
	sum, err := p.trailer()
	if err == nil {
		err = p.checkSum()
	}
	if err == nil && packName(sum) != name {
		err = fmt.Errorf("bytes are not those that were written")
	}
	if err == nil {
		var got []indexed
		if got, err = p.entries(); err == nil && !slices.Equal(got, objects) { // both in order of offset
			err = fmt.Errorf("index reads back differently")
		}
	}
	if err != nil {
		return &DamageError{Object: name, Fault: err.Error()}
	}
	return nil
}
