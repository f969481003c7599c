package near

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

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
		next atomic.Int64
	)
	for range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for ctx.Err() == nil {
				to := int(next.Add(int64(chunk)))
				if to-chunk >= n {
					return
				}
				do(to-chunk, min(to, n))
			}
		}()
	}
	wg.Wait()
}

// pieceOf cuts n into one piece a goroutine, but none shorter than least.
func pieceOf(n, least int) int {
	workers := runtime.GOMAXPROCS(0)
	return max(1, least, (n+workers-1)/workers)
}
