package git

import (
	"cmp"
	"context"
	"strings"
)

// Leaf is a file of the history.
type Leaf struct {
	Folder string // with a slash at the end
	Name   string
	Hash   Hash
}

// Path returns folder and name joined.
func (l Leaf) Path() string { return l.Folder + l.Name }

// Changes lists the files by which commit to differs from commit from, in order of path: those added, and
// those lost, which an append-only history never has. A changed file is both. A zero from lists all of to.
// Folders with the same name on both sides are not read.
func (r *Repo) Changes(ctx context.Context, from, to Hash) (added, lost []Leaf, err error) {
	var trees [2]Hash
	for i, h := range [...]Hash{from, to} {
		if h.IsZero() {
			continue
		}
		c, err := r.Commit(h)
		if err != nil {
			return nil, nil, err
		}
		trees[i] = c.Tree
	}
	d := &difference{from: r, to: r}
	err = d.trees(ctx, "", trees[0], trees[1])
	return d.added, d.lost, err
}

type difference struct {
	from, to    *Repo
	added, lost []Leaf
}

func (d *difference) trees(ctx context.Context, folder string, from, to Hash) error {
	if from == to {
		return nil
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	a, err := d.from.tree(from)
	if err != nil {
		return err
	}
	b, err := d.to.tree(to)
	if err != nil {
		return err
	}
	for len(a) > 0 || len(b) > 0 {
		var old, young entry
		switch order := compareHeads(a, b); {
		case order < 0:
			old, a = a[0], a[1:]
		case order > 0:
			young, b = b[0], b[1:]
		default:
			old, a, young, b = a[0], a[1:], b[0], b[1:]
		}
		if old.hash == young.hash && old.tree == young.tree {
			continue
		}
		if err := d.pair(ctx, folder, old, young); err != nil {
			return err
		}
	}
	return nil
}

// compareHeads tells which of two lists begins with the earlier entry; an empty one comes last.
func compareHeads(a, b []entry) int {
	switch {
	case len(a) == 0:
		return 1
	case len(b) == 0:
		return -1
	}
	return compareEntries(a[0], b[0])
}

// pair compares two entries of one name; either may be empty.
func (d *difference) pair(ctx context.Context, folder string, old, young entry) error {
	name := cmp.Or(old.name, young.name)
	if !old.tree && !old.hash.IsZero() {
		d.lost = append(d.lost, Leaf{folder, old.name, old.hash})
	}
	if !young.tree && !young.hash.IsZero() {
		d.added = append(d.added, Leaf{folder, young.name, young.hash})
	}
	if !old.tree {
		old.hash = Hash{}
	}
	if !young.tree {
		young.hash = Hash{}
	}
	return d.trees(ctx, folder+name+"/", old.hash, young.hash)
}

// Last returns the path of the greatest name at or below folder, where better tells which of two names of
// one folder comes later; ok may refuse a name. It reads one folder of each level unless names are refused.
func (r *Repo) Last(commit Hash, folder string, ok func(name string) bool, better func(a, b string) int) (string, error) {
	c, err := r.Commit(commit)
	if err != nil {
		return "", err
	}
	tree := c.Tree
	for rest := strings.Trim(folder, "/"); rest != ""; {
		var first string
		first, rest = splitFirst(rest)
		entries, err := r.tree(tree)
		if err != nil {
			return "", err
		}
		tree = Hash{}
		for _, e := range entries {
			if e.tree && e.name == first {
				tree = e.hash
			}
		}
		if tree.IsZero() {
			return "", nil
		}
	}
	name, err := r.last(tree, ok, better)
	if name == "" {
		return "", err
	}
	return strings.Trim(folder, "/") + "/" + name, err
}

func (r *Repo) last(tree Hash, ok func(string) bool, better func(a, b string) int) (string, error) {
	entries, err := r.tree(tree)
	if err != nil {
		return "", err
	}
	best := ""
	for i := len(entries) - 1; i >= 0; i-- {
		e := entries[i]
		if e.tree {
			name, err := r.last(e.hash, ok, better)
			if err != nil || name != "" {
				return e.name + "/" + name, err
			}
		} else if ok(e.name) && (best == "" || better(e.name, best) > 0) {
			best = e.name
		}
	}
	return best, nil
}

// Folders lists the folders in a folder of a commit, in order.
func (r *Repo) Folders(commit Hash, folder string) ([]string, error) {
	c, err := r.Commit(commit)
	if err != nil {
		return nil, err
	}
	tree := c.Tree
	for part := range strings.SplitSeq(folder, "/") {
		entries, err := r.tree(tree)
		if err != nil {
			return nil, err
		}
		tree = Hash{}
		for _, e := range entries {
			if e.tree && e.name == part {
				tree = e.hash
			}
		}
	}
	entries, err := r.tree(tree)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if e.tree {
			names = append(names, e.name)
		}
	}
	return names, nil
}
