package local

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mien/asset"
	"mien/catalog/store"
	"mien/catalog/store/storetest"
)

func fresh(t *testing.T) *Store {
	t.Helper()
	s, err := Init(filepath.Join(t.TempDir(), "store"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestStore(t *testing.T) {
	storetest.Run(t, func() store.Store {
		s := fresh(t)
		t.Cleanup(func() {
			left, err := os.ReadDir(filepath.Join(s.dir, incoming))
			if err != nil || len(left) != 0 {
				t.Errorf("%d unfinished files left, %v", len(left), err)
			}
		})
		return s
	})
}

// damage changes the stored file of b and returns its hash.
func damage(t *testing.T, s *Store, b []byte, change func([]byte) []byte) asset.Hash {
	t.Helper()
	h, _, _, err := s.Put(context.Background(), bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(s.Path(h), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(s.Path(h), change(bytes.Clone(b)), 0o600); err != nil {
		t.Fatal(err)
	}
	return h
}

func TestDamageIsSeenAndHealed(t *testing.T) {
	ctx := context.Background()
	for name, change := range map[string]func([]byte) []byte{
		"bit":      func(b []byte) []byte { b[len(b)-1] ^= 1; return b },
		"cut":      func(b []byte) []byte { return b[:len(b)-1] },
		"emptied":  func(b []byte) []byte { return nil },
		"extended": func(b []byte) []byte { return append(b, 0) },
	} {
		t.Run(name, func(t *testing.T) {
			s := fresh(t)
			b := []byte(strings.Repeat("surface ", 100_000))
			h := damage(t, s, b, change)
			r, err := s.Get(ctx, h)
			if err != nil {
				t.Fatal(err)
			}
			_, err = io.Copy(io.Discard, r)
			r.Close()
			var damaged *store.DamageError
			if !errors.As(err, &damaged) || damaged.Hash != h || damaged.Got == h {
				t.Fatalf("read: %v", err)
			}
			if _, _, existed, err := s.Put(ctx, bytes.NewReader(b)); existed || err != nil {
				t.Fatalf("put again: existed %v, %v", existed, err)
			}
			if _, err := store.Check(ctx, s, h); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestStrangersAndLayout(t *testing.T) {
	ctx := context.Background()
	s := fresh(t)
	h, _, _, err := s.Put(ctx, strings.NewReader("abc"))
	if err != nil {
		t.Fatal(err)
	}
	// BLAKE3 of "abc". Source: the BLAKE3 team's b3sum, run on the three bytes (from memory).
	const abc = "6437b3ac38465133ffb63b75273a8db548c558465d79db03fd359c6cd5bd9d85"
	if got := s.Path(h); got != filepath.Join(s.dir, "64", abc) {
		t.Errorf("stands at %s", got)
	}
	info, err := os.Stat(s.Path(h))
	if err != nil || info.Mode().Perm() != 0o400 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	for _, name := range []string{"notes.txt", "64/" + abc[:63], "64/ff" + abc[2:]} {
		if err := os.WriteFile(filepath.Join(s.dir, filepath.FromSlash(name)), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	strangers, err := s.Strangers(ctx)
	if err != nil || len(strangers) != 3 {
		t.Errorf("strangers %q, %v", strangers, err)
	}
	n := 0
	if err := s.Walk(ctx, func(store.Info) error { n++; return nil }); err != nil || n != 1 {
		t.Errorf("%d files, %v", n, err)
	}
}

func TestSweepTakesOnlyTheOld(t *testing.T) {
	s := fresh(t)
	old, young := filepath.Join(s.dir, incoming, "tmp_mien_1"), filepath.Join(s.dir, incoming, "tmp_mien_2")
	for _, name := range []string{old, young} {
		if err := os.WriteFile(name, []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	past := time.Now().Add(-48 * time.Hour)
	if err := os.Chtimes(old, past, past); err != nil {
		t.Fatal(err)
	}
	n, err := s.Sweep(time.Now().Add(-24 * time.Hour).UnixMilli())
	if n != 1 || err != nil {
		t.Errorf("%d swept, %v", n, err)
	}
	if _, err := os.Stat(young); err != nil {
		t.Error(err)
	}
}
