// Package storetest is the suite that every store must pass.
package storetest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"testing/iotest"

	"mien/asset"
	"mien/catalog/store"
)

// Run runs the suite. open returns an empty store each time.
func Run(t *testing.T, open func() store.Store) {
	for _, test := range []struct {
		name string
		run  func(*testing.T, store.Store)
	}{
		{"PutGet", putGet},
		{"Duplicate", duplicate},
		{"Missing", missing},
		{"Walk", walk},
		{"FailedPut", failedPut},
		{"Cancelled", cancelled},
		{"Together", together},
		{"Remove", remove},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := open()
			test.run(t, s)
			checkAll(t, s)
		})
	}
}

// checkAll reads every file after a test: whatever it did, nothing may be damaged.
func checkAll(t *testing.T, s store.Store) {
	t.Helper()
	ctx := context.Background()
	err := s.Walk(ctx, func(info store.Info) error {
		n, err := store.Check(ctx, s, info.Hash)
		if err == nil && n != info.Size {
			err = fmt.Errorf("store object %s: %d bytes, listed as %d", info.Hash.Short(), n, info.Size)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

func noise(seed uint64, n int) []byte {
	var key [32]byte
	key[0], key[1] = byte(seed), byte(seed>>8)
	b := make([]byte, n)
	rand.NewChaCha8(key).Read(b)
	return b
}

func put(t *testing.T, s store.Store, b []byte) asset.Hash {
	t.Helper()
	h, size, existed, err := s.Put(context.Background(), bytes.NewReader(b))
	if err != nil || existed || size != int64(len(b)) || h != asset.HashBytes(b) {
		t.Fatalf("put %d bytes: %s, %d, %v, %v", len(b), h.Short(), size, existed, err)
	}
	return h
}

func putGet(t *testing.T, s store.Store) {
	ctx := context.Background()
	for _, n := range []int{0, 1, 63, 64, 65, 1 << 10, 512 << 10, 512<<10 + 1, 3 << 20} {
		b := noise(uint64(n), n)
		h := put(t, s, b)
		r, err := s.Get(ctx, h)
		if err != nil {
			t.Fatal(err)
		}
		if n <= 65 { // slow: reads in many ways
			err = iotest.TestReader(r, b)
		} else if got, bad := io.ReadAll(r); bad != nil || !bytes.Equal(got, b) {
			err = fmt.Errorf("got %d bytes, %v", len(got), bad)
		}
		if err != nil {
			t.Errorf("%d bytes: %v", n, err)
		}
		r.Close()
		info, err := s.Stat(ctx, h)
		if err != nil || info != (store.Info{Hash: h, Size: int64(n)}) {
			t.Errorf("stat: %+v, %v", info, err)
		}
		if ok, err := s.Has(ctx, h); !ok || err != nil {
			t.Errorf("has: %v, %v", ok, err)
		}
	}
}

func duplicate(t *testing.T, s store.Store) {
	b := noise(1, 100_000)
	h := put(t, s, b)
	for _, r := range []io.Reader{bytes.NewReader(b), iotest.OneByteReader(bytes.NewReader(b)), iotest.DataErrReader(bytes.NewReader(b))} {
		got, size, existed, err := s.Put(context.Background(), r)
		if got != h || size != int64(len(b)) || !existed || err != nil {
			t.Errorf("again: %s, %d, %v, %v", got.Short(), size, existed, err)
		}
	}
	if n := count(t, s); n != 1 {
		t.Errorf("%d files, want 1", n)
	}
}

func count(t *testing.T, s store.Store) (n int) {
	t.Helper()
	if err := s.Walk(context.Background(), func(store.Info) error { n++; return nil }); err != nil {
		t.Fatal(err)
	}
	return n
}

func missing(t *testing.T, s store.Store) {
	ctx := context.Background()
	h := asset.HashBytes([]byte("never stored"))
	var want *store.MissingError
	if _, err := s.Get(ctx, h); !errors.As(err, &want) || want.Hash != h {
		t.Errorf("get: %v", err)
	}
	if _, err := s.Stat(ctx, h); !errors.As(err, &want) {
		t.Errorf("stat: %v", err)
	}
	if ok, err := s.Has(ctx, h); ok || err != nil {
		t.Errorf("has: %v, %v", ok, err)
	}
	if err := s.Remove(ctx, h); err != nil {
		t.Errorf("remove: %v", err)
	}
}

func walk(t *testing.T, s store.Store) {
	want := map[asset.Hash]int64{}
	for i := range 40 {
		b := noise(uint64(i), i*7)
		want[put(t, s, b)] = int64(len(b))
	}
	var order []string
	err := s.Walk(context.Background(), func(info store.Info) error {
		if size, ok := want[info.Hash]; !ok || size != info.Size {
			t.Errorf("unexpected %s of %d bytes", info.Hash.Short(), info.Size)
		}
		order = append(order, info.Hash.String())
		return nil
	})
	if err != nil || len(order) != len(want) || !slices.IsSorted(order) {
		t.Errorf("%d files of %d, sorted %v, %v", len(order), len(want), slices.IsSorted(order), err)
	}
	stop := errors.New("stop")
	calls := 0
	if err := s.Walk(context.Background(), func(store.Info) error { calls++; return stop }); err != stop || calls != 1 {
		t.Errorf("walk went on for %d files: %v", calls, err)
	}
}

func failedPut(t *testing.T, s store.Store) {
	broken := errors.New("drive pulled out")
	b := noise(3, 900_000)
	_, _, _, err := s.Put(context.Background(), io.MultiReader(bytes.NewReader(b), iotest.ErrReader(broken)))
	if !errors.Is(err, broken) {
		t.Errorf("put: %v", err)
	}
	if ok, _ := s.Has(context.Background(), asset.HashBytes(b)); ok || count(t, s) != 0 {
		t.Error("a failed put left a file")
	}
}

func cancelled(t *testing.T, s store.Store) {
	b := noise(4, 10)
	h := put(t, s, b)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, _, _, err := s.Put(ctx, bytes.NewReader(noise(5, 10))); !errors.Is(err, context.Canceled) {
		t.Errorf("put: %v", err)
	}
	if _, err := store.Check(ctx, s, h); !errors.Is(err, context.Canceled) {
		t.Errorf("check: %v", err)
	}
	if err := s.Walk(ctx, func(store.Info) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("walk: %v", err)
	}
	if count(t, s) != 1 {
		t.Error("a cancelled put left a file")
	}
}

func together(t *testing.T, s store.Store) {
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			for i := range 10 {
				b := noise(uint64(i), 5_000+i)
				h, _, _, err := s.Put(context.Background(), bytes.NewReader(b))
				if err == nil {
					_, err = store.Check(context.Background(), s, h)
				}
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	if n := count(t, s); n != 10 {
		t.Errorf("%d files, want 10", n)
	}
}

func remove(t *testing.T, s store.Store) {
	h := put(t, s, noise(6, 50))
	put(t, s, noise(7, 50))
	if err := s.Remove(context.Background(), h); err != nil {
		t.Fatal(err)
	}
	if ok, err := s.Has(context.Background(), h); ok || err != nil || count(t, s) != 1 {
		t.Errorf("still here: %v, %v", ok, err)
	}
	put(t, s, noise(6, 50))
}
