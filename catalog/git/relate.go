package git

import (
	"container/heap"
	"context"
	"time"
)

// Relation says how two commits stand to each other.
type Relation int

// Relations of a to b.
const (
	Equal  Relation = iota // they are the same commit
	Ahead                  // the history of a contains b
	Behind                 // the history of b contains a
	Apart                  // neither contains the other
)

// Relate tells how commit a stands to commit b; both histories must be here. It reads the commits that
// only one of them contains, and as many of the common ones as wrong clocks make it. The answer does not
// depend on clocks.
func (r *Repo) Relate(ctx context.Context, a, b Hash) (Relation, error) {
	if a == b {
		return Equal, nil
	}
	const fromA, fromB = 1, 2
	marks := map[Hash]int{}
	var queue byTime
	mark := func(h Hash, m int) error {
		old := marks[h]
		if old|m == old {
			return nil
		}
		marks[h] = old | m
		c, err := r.Commit(h)
		if err != nil {
			return err
		}
		heap.Push(&queue, waiting{h, c.When, c.Parents})
		return nil
	}
	if err := mark(a, fromA); err != nil {
		return 0, err
	}
	if err := mark(b, fromB); err != nil {
		return 0, err
	}
	for queue.apart(marks) {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		w := heap.Pop(&queue).(waiting)
		m := marks[w.hash]
		for _, p := range w.parents {
			if err := mark(p, m); err != nil {
				return 0, err
			}
		}
		switch {
		case marks[b] == fromA|fromB:
			return Ahead, nil
		case marks[a] == fromA|fromB:
			return Behind, nil
		}
	}
	return Apart, nil
}

// waiting is a commit whose parents are still to be looked at.
type waiting struct {
	hash    Hash
	when    time.Time
	parents []Hash
}

// byTime is a heap of commits, the newest first.
type byTime []waiting

func (q byTime) Len() int           { return len(q) }
func (q byTime) Less(i, j int) bool { return q[i].when.After(q[j].when) }
func (q byTime) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *byTime) Push(w any)        { *q = append(*q, w.(waiting)) }
func (q *byTime) Pop() any {
	old := *q
	w := old[len(old)-1]
	*q = old[:len(old)-1]
	return w
}

// apart reports whether a commit waits that is known from one side only.
func (q byTime) apart(marks map[Hash]int) bool {
	for _, w := range q {
		if marks[w.hash] != 3 {
			return true
		}
	}
	return false
}
