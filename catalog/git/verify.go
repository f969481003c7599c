package git

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Report is what [Repo.Verify] found.
type Report struct {
	Commits, Objects int
	Faults           []DamageError
	Notes            []string // remarkable, but nothing is lost
}

func (rep *Report) fault(object, format string, args ...any) {
	rep.Faults = append(rep.Faults, DamageError{Object: object, Fault: fmt.Sprintf(format, args...)})
}

// damage notes an error, once, under the object that it is about, which is object unless it says itself.
func (rep *Report) damage(object string, err error) {
	d := DamageError{Object: object, Fault: err.Error()}
	if own := (*DamageError)(nil); errors.As(err, &own) {
		d = *own
	}
	if !slices.Contains(rep.Faults, d) {
		rep.Faults = append(rep.Faults, d)
	}
}

// Verify reads every object of the repository. It checks pack files and indexes against their sums, each
// object against its name, and that the history is whole and only ever added. progress may be nil.
//
// An error means that Verify itself was stopped; damage is in the report.
func (r *Repo) Verify(ctx context.Context, progress func(done, total int64)) (*Report, error) {
	rep := &Report{}
	if text, err := os.ReadFile(filepath.Join(r.dir, "HEAD")); err != nil || strings.TrimSpace(string(text)) != headText() {
		rep.fault("HEAD", "holds %.50q, allowed is %q", text, headText())
	}
	if err := r.obj.refresh(); err != nil {
		return nil, err
	}
	defer r.obj.loadIndexes()()
	commits, err := r.verifyPacks(ctx, rep, progress)
	if err != nil {
		return nil, err
	}
	head, err := r.Head()
	if err != nil {
		rep.damage(Branch, err)
		return rep, nil
	}
	reached, err := r.verifyHistory(ctx, rep, head)
	if err != nil {
		return nil, err
	}
	rep.Commits = len(reached)
	rep.beyond(head, commits, reached, r.receiving())
	return rep, nil
}

// verifyPacks checks all packs and returns the commits they hold in order of pack and offset.
func (r *Repo) verifyPacks(ctx context.Context, rep *Report, progress func(done, total int64)) ([]*Commit, error) {
	r.obj.mu.RLock()
	defer r.obj.mu.RUnlock()
	var total, done int64
	for _, p := range r.obj.packs {
		total += int64(p.count)
	}
	var commits []*Commit
	for _, p := range r.obj.packs {
		if err := p.checkSum(); err != nil {
			rep.damage(p.name+".pack", err)
		}
		objects, err := p.entries()
		if err != nil {
			rep.damage(p.name+".idx", err)
		}
		s := newScan(p)
		if n, err := s.count(); err != nil {
			rep.damage(p.name+".pack", err)
		} else if n != p.count {
			rep.fault(p.name, "pack and index count different objects: %d and %d", n, p.count)
		}
		for i, o := range objects {
			if i%256 == 0 {
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				if progress != nil {
					progress(done+int64(i), total)
				}
			}
			c, err := r.verifyObject(s, o)
			if err != nil {
				rep.damage(p.name, err)
			}
			if c != nil {
				commits = append(commits, c)
			}
		}
		if !r.obj.bulk {
			p.body.data.Store(nil)
		}
		rep.Objects += p.count
		done += int64(p.count)
	}
	if progress != nil {
		progress(done, total)
	}
	return commits, nil
}

func (r *Repo) verifyObject(s *scan, o indexed) (*Commit, error) {
	t, content, err := s.object(o)
	if err == nil && t.IsDelta() { // a client has repacked: bases are read again and again
		if err := s.p.body.load(); err != nil {
			return nil, err
		}
		t, content, err = r.obj.packed(s.p, o.offset, 0)
	}
	if err != nil {
		return nil, fmt.Errorf("object %s: byte %d: %w", o.hash.Short(), o.offset, err)
	}
	if got := hashObject(t, content); got != o.hash {
		return nil, fmt.Errorf("object %s: content hash is %s", o.hash.Short(), got.Short())
	}
	if t != typeCommit {
		return nil, nil
	}
	c, err := parseCommit(o.hash, content)
	if err != nil {
		return nil, fmt.Errorf("commit %s: %w", o.hash.Short(), err)
	}
	return c, nil
}

// verifyHistory walks from head to the first commit and checks that no step takes anything away.
func (r *Repo) verifyHistory(ctx context.Context, rep *Report, head Hash) (map[Hash]bool, error) {
	reached := map[Hash]bool{head: true}
	for queue := []Hash{head}; len(queue) > 0; {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		h := queue[0]
		queue = queue[1:]
		c, err := r.Commit(h)
		if err != nil {
			rep.damage("commit "+h.Short(), err)
			continue
		}
		parents := c.Parents
		if len(parents) == 0 {
			parents = []Hash{{}}
		}
		for _, p := range parents {
			_, lost, err := r.Changes(ctx, p, h)
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			if err != nil {
				rep.damage("commit "+h.Short(), err)
			}
			for _, leaf := range lost {
				rep.fault(leaf.Path(), "commit %s takes it away", h.Short())
			}
			if !p.IsZero() && !reached[p] {
				reached[p] = true
				queue = append(queue, p)
			}
		}
	}
	return reached, nil
}

// beyond looks for commits that build on head and are not part of the history. One of them is what an append
// leaves that was cut short before the branch moved. More of them say that the branch was set back, unless
// the records of another site are on their way in.
func (rep *Report) beyond(head Hash, commits []*Commit, reached map[Hash]bool, receiving bool) {
	children := map[Hash][]*Commit{}
	stray := 0
	for _, c := range commits {
		if reached[c.Hash] {
			continue
		}
		stray++
		for _, p := range c.Parents {
			children[p] = append(children[p], c)
		}
	}
	depth, newest := 0, head
	for level := children[head]; len(level) > 0; depth++ {
		var next []*Commit
		for _, c := range level {
			newest = c.Hash
			next = append(next, children[c.Hash]...)
		}
		level = next
	}
	switch {
	case stray > 0 && receiving:
		rep.Notes = append(rep.Notes, fmt.Sprintf("records: %d commits of another site are on their way in; run the sync again if none is running", stray))
	case depth > 1:
		rep.fault(Branch, "was set back: %d commits up to %s build on it", depth, newest.Short())
	case stray > 0:
		rep.Notes = append(rep.Notes, fmt.Sprintf("records: %d commits are not part of the history: appends that were cut short", stray))
	}
}
