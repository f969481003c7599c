package git

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"mien/catalog/durable"
)

// packFull is the size in bytes from which on a copy begins another pack, which bounds its memory.
const packFull = 64 << 20

// incoming is the folder whose files name commits that are being received.
const incoming = "incoming"

// Receive copies from another repository every object that commit needs and this one lacks, each checked
// against its name. It returns how many there were. The branch does not move, see [Repo.Advance].
//
// No lock is needed, and appends may go on meanwhile. Objects are placed before whatever names them, so a
// copy that was cut short is whole as far as it came and goes on from there. Until [Repo.Received] a note
// in the repository tells that the commits beyond the branch are meant to be here.
func (r *Repo) Receive(ctx context.Context, from *Repo, commit Hash, progress func(objects int)) (int, error) {
	if progress == nil {
		progress = func(int) {}
	}
	if err := durable.Mkdir(filepath.Join(r.dir, incoming)); err != nil {
		return 0, err
	}
	if err := durable.Write(filepath.Join(r.dir, incoming, commit.String()), nil, 0o600); err != nil {
		return 0, err
	}
	for _, o := range [...]*objects{r.obj, from.obj} {
		if err := o.index(); err != nil {
			return 0, err
		}
		defer o.release()
	}
	c := &copier{to: r, from: from, w: newPackWriter(), progress: progress}
	missing, err := c.commits(ctx, commit)
	if err != nil {
		return 0, err
	}
	if len(missing) > copyAtOnce {
		if err := from.Load(); err != nil {
			return 0, err
		}
		defer from.Unload()
	}
	for _, h := range missing {
		if err := c.commit(ctx, h); err != nil {
			return c.n, err
		}
	}
	return c.n, c.flush()
}

// copyAtOnce is from how many commits on it pays to bring the whole source into memory.
const copyAtOnce = 64

// Received ends what [Repo.Receive] began for a commit.
func (r *Repo) Received(commit Hash) error {
	err := os.Remove(filepath.Join(r.dir, incoming, commit.String()))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// receiving reports whether commits are being received, or the copying of some was cut short.
func (r *Repo) receiving() bool {
	names, err := os.ReadDir(filepath.Join(r.dir, incoming))
	return err == nil && len(names) > 0
}

// Advance moves the branch from one commit to another whose history contains it and is all here.
// The caller holds the catalog's lock and read from under it.
func (r *Repo) Advance(from, to Hash) error {
	if _, err := r.Commit(to); err != nil {
		return err
	}
	return r.move(from, to)
}

type copier struct {
	to, from *Repo
	w        *packWriter
	n        int
	progress func(int)
}

// has reports whether an object is in the target already, or in the pack that is being made.
func (c *copier) has(h Hash) (bool, error) {
	if c.w.seen[h] {
		return true, nil
	}
	return c.to.obj.has(h)
}

// commits lists the commits that the target lacks, parents before children.
func (c *copier) commits(ctx context.Context, head Hash) ([]Hash, error) {
	type step struct {
		hash    Hash
		parents []Hash // still to be looked at
	}
	var order []Hash
	seen := map[Hash]bool{}
	visit := func(path []step, h Hash) ([]step, error) {
		here, err := c.to.obj.has(h)
		if err != nil || here || seen[h] {
			return path, err
		}
		seen[h] = true
		commit, err := c.from.Commit(h)
		if err != nil {
			return path, err
		}
		return append(path, step{h, commit.Parents}), nil
	}
	path, err := visit(nil, head)
	for err == nil && len(path) > 0 {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		last := &path[len(path)-1]
		if len(last.parents) == 0 {
			order = append(order, last.hash)
			path = path[:len(path)-1]
			continue
		}
		next := last.parents[0]
		last.parents = last.parents[1:]
		path, err = visit(path, next)
	}
	return order, err
}

func (c *copier) commit(ctx context.Context, h Hash) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	commit, err := c.from.Commit(h)
	if err != nil {
		return err
	}
	var base Hash
	if len(commit.Parents) > 0 {
		parent, err := c.from.Commit(commit.Parents[0])
		if err != nil {
			return err
		}
		base = parent.Tree
	}
	if err := c.tree(ctx, commit.Tree, base); err != nil {
		return err
	}
	return c.object(h, typeCommit)
}

// tree copies a folder, what is in it first. What base, a folder that is here, holds too is passed over.
func (c *copier) tree(ctx context.Context, h, base Hash) error {
	if h == base {
		return nil
	}
	if here, err := c.has(h); err != nil || here {
		return err
	}
	entries, err := c.from.tree(h)
	if err != nil {
		return err
	}
	known, err := c.from.tree(base)
	if err != nil {
		return err
	}
	for _, e := range entries {
		for len(known) > 0 && compareEntries(known[0], e) < 0 {
			known = known[1:]
		}
		var old Hash
		if len(known) > 0 && compareEntries(known[0], e) == 0 {
			old = known[0].hash
		}
		switch {
		case old == e.hash:
		case e.tree:
			err = c.tree(ctx, e.hash, old)
		default:
			err = c.object(e.hash, typeBlob)
		}
		if err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return c.object(h, typeTree)
}

func (c *copier) object(h Hash, t objectType) error {
	if here, err := c.has(h); err != nil || here {
		return err
	}
	content, err := c.from.obj.read(h, t)
	if err != nil {
		return err
	}
	if got := c.w.add(t, content); got != h {
		return &DamageError{Object: t.String() + " " + h.Short(), Fault: fmt.Sprintf("content hash is %s", got.Short())}
	}
	c.n++
	c.progress(c.n)
	if c.w.buf.Len() >= packFull {
		return c.flush()
	}
	return nil
}

// flush places what was gathered. The unfinished files lie beside the pack folder, where no appending
// process sweeps them away.
func (c *copier) flush() error {
	if len(c.w.objects) == 0 {
		return nil
	}
	if _, err := c.w.placeFrom(c.to.obj.dir, c.to.obj.folder()); err != nil {
		return err
	}
	c.w = newPackWriter()
	if err := c.to.obj.refresh(); err != nil {
		return err
	}
	return c.to.obj.index()
}

// index brings the indexes of all packs into memory, for looking up many objects; release lets them go.
func (o *objects) index() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, p := range o.packs {
		if err := p.index.load(); err != nil {
			return &DamageError{Object: p.name, Fault: err.Error()}
		}
	}
	return nil
}

func (o *objects) release() {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.bulk {
		return
	}
	for _, p := range o.packs {
		p.index.data.Store(nil)
	}
}

// has reports whether an object is here, without reading it.
func (o *objects) has(h Hash) (bool, error) {
	o.mu.RLock()
	defer o.mu.RUnlock()
	for i := len(o.packs) - 1; i >= 0; i-- {
		off, err := o.packs[i].find(h)
		if err != nil {
			return false, &DamageError{Object: o.packs[i].name, Fault: err.Error()}
		}
		if off >= 0 {
			return true, nil
		}
	}
	name := h.String()
	_, err := os.Stat(filepath.Join(o.dir, name[:2], name[2:]))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

// Has reports whether a commit is here, on the branch or beside it.
func (r *Repo) Has(commit Hash) (bool, error) { return r.obj.has(commit) }
