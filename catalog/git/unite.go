package git

import (
	"context"
	"time"
)

// union signs the commits in which two histories meet. They belong to no site: both sides of a meeting
// make the very same one.
const union = "union"

// Differ lists the files of commit b in repository s that commit a in this repository lacks or has with
// other bytes, and those of a that b lacks or has with other bytes, each in order of path.
func (r *Repo) Differ(ctx context.Context, a Hash, s *Repo, b Hash) (onlyB, onlyA []Leaf, err error) {
	ca, err := r.Commit(a)
	if err != nil {
		return nil, nil, err
	}
	cb, err := s.Commit(b)
	if err != nil {
		return nil, nil, err
	}
	d := &difference{from: r, to: s}
	err = d.trees(ctx, "", ca.Tree, cb.Tree)
	return d.added, d.lost, err
}

// Unite makes the commit whose files are those of both commits and whose parents they are, durable but not
// yet on the branch. It is the same commit whichever way round they are given, and whoever makes it.
// Both histories must be here.
//
// It returns a [DamageError] naming the first path under which the two hold different bytes.
func (r *Repo) Unite(ctx context.Context, a, b Hash) (Hash, error) {
	if string(a[:]) > string(b[:]) {
		a, b = b, a
	}
	ca, err := r.Commit(a)
	if err != nil {
		return Hash{}, err
	}
	cb, err := r.Commit(b)
	if err != nil {
		return Hash{}, err
	}
	c := &Commit{Parents: []Hash{a, b}, Author: union, When: latest(ca.When, cb.When), Message: "two sites met"}
	w := newPackWriter()
	if c.Tree, err = r.unite(ctx, w, "", ca.Tree, cb.Tree); err != nil {
		return Hash{}, err
	}
	c.Hash = w.add(typeCommit, c.encode())
	if _, err := w.placeFrom(r.obj.dir, r.obj.folder()); err != nil {
		return Hash{}, err
	}
	return c.Hash, r.obj.refresh()
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// unite puts the trees of a union into w and returns its name.
func (r *Repo) unite(ctx context.Context, w *packWriter, at string, a, b Hash) (Hash, error) {
	if a == b || b.IsZero() {
		return a, nil
	}
	if a.IsZero() {
		return b, nil
	}
	if err := ctx.Err(); err != nil {
		return Hash{}, err
	}
	left, err := r.tree(a)
	if err != nil {
		return Hash{}, err
	}
	right, err := r.tree(b)
	if err != nil {
		return Hash{}, err
	}
	var merged []entry
	for len(left) > 0 || len(right) > 0 {
		var e entry
		switch order := compareHeads(left, right); {
		case order < 0:
			e, left = left[0], left[1:]
		case order > 0:
			e, right = right[0], right[1:]
		default:
			e = left[0]
			if other := right[0]; e.tree && other.tree {
				e.hash, err = r.unite(ctx, w, at+e.name+"/", e.hash, other.hash)
			} else if e != other {
				err = &DamageError{Object: at + e.name, Fault: "two sites hold different bytes here"}
			}
			if err != nil {
				return Hash{}, err
			}
			left, right = left[1:], right[1:]
		}
		merged = append(merged, e)
	}
	content := encodeTree(merged)
	if h := hashObject(typeTree, content); h == a || h == b {
		return h, nil
	}
	return w.add(typeTree, content), nil
}
