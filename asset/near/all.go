package near

import (
	"context"
	"runtime"
	"sync"

	"mien/asset/mesh"
)

// ClosestAll answers [Index.Closest] for every point: hits[i] belongs to point(i), and ok[i] is false
// where nothing lies within maxM metres (0 = no limit). Points that follow each other in space are
// answered faster. The work is shared among GOMAXPROCS goroutines; the answers are the same for any
// number of them. point must be safe to call from several goroutines.
//
// It returns ctx's error when cancelled.
func (ix *Index) ClosestAll(ctx context.Context, n int, point func(i int) mesh.Vec, maxM float64) (hits []Hit, ok []bool, err error) {
	hits, ok = make([]Hit, n), make([]bool, n)
	const chunk = 2048
	Share(ctx, n, chunk, func(from, to int) {
		guess := -1
		for i := from; i < to; i++ {
			hits[i], ok[i] = ix.closest(point(i), maxM, guess)
			if ok[i] {
				guess = int(ix.place[hits[i].Tri])
			}
		}
	})
	return hits, ok, ctx.Err()
}

// Share calls do on consecutive pieces of 0..n-1, at most chunk long, from GOMAXPROCS goroutines, and
// returns when all are done or ctx is cancelled. do must write only what belongs to its piece, so that
// the outcome does not depend on the order.
func Share(ctx context.Context, n, chunk int, do func(from, to int)) {
	workers := min(runtime.GOMAXPROCS(0), (n+chunk-1)/chunk)
	if workers <= 1 {
		for from := 0; from < n && ctx.Err() == nil; from += chunk {
			do(from, min(from+chunk, n))
		}
		return
	}
	var (
		wg   sync.WaitGroup
		mu   sync.Mutex
		next int
	)
	take := func() (int, bool) {
		mu.Lock()
		defer mu.Unlock()
		from := next
		next += chunk
		return from, from < n && ctx.Err() == nil
	}
	for range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for from, more := take(); more; from, more = take() {
				do(from, min(from+chunk, n))
			}
		}()
	}
	wg.Wait()
}
