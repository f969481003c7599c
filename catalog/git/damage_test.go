package git

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestBranchIsNeverTakenForEmpty(t *testing.T) {
	for name, spoil := range map[string]func(path string) error{
		"missing": os.Remove,
		"empty":   func(p string) error { return os.WriteFile(p, nil, 0o600) },
		"short":   func(p string) error { return os.WriteFile(p, []byte("7c"), 0o600) },
		"zero":    func(p string) error { return os.WriteFile(p, []byte(strings.Repeat("0", 40)+"\n"), 0o600) },
	} {
		r := fresh(t)
		head := fill(t, r, 3)
		if err := spoil(filepath.Join(r.dir, Branch)); err != nil {
			t.Fatal(err)
		}
		var damage *DamageError
		if h, err := r.Head(); !errors.As(err, &damage) {
			t.Errorf("%s: head %s, %v", name, h, err)
		}
		if _, err := r.Append(head, Batch{Files: []File{file(9)}, Author: "a", Message: "m"}); !errors.As(err, &damage) {
			t.Errorf("%s: append: %v", name, err)
		}
		if rep, err := r.Verify(context.Background(), nil); err != nil || len(rep.Faults) == 0 {
			t.Errorf("%s: verify: %+v, %v", name, rep, err)
		}
	}
}

func TestStaleLockAndUnfinishedFilesAreSwept(t *testing.T) {
	r := fresh(t)
	head := fill(t, r, 3)
	litter := []string{
		filepath.Join(r.dir, Branch+".lock"),
		filepath.Join(r.dir, "objects/pack/tmp_mien_123"),
	}
	for _, name := range litter {
		if err := os.WriteFile(name, []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := r.Append(head, Batch{Files: []File{file(3)}, Author: "a", Message: "m"}); err != nil {
		t.Fatal(err)
	}
	for _, name := range litter {
		if _, err := os.Stat(name); err == nil {
			t.Errorf("%s still stands", filepath.Base(name))
		}
	}
}

func TestVerifySeesABranchSetBack(t *testing.T) {
	r := fresh(t)
	head := fill(t, r, 20)
	c, err := r.Commit(head)
	if err != nil {
		t.Fatal(err)
	}
	set := func(h Hash) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(r.dir, Branch), []byte(h.String()+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	set(c.Parents[0])
	if rep := sound(t, r); len(rep.Notes) != 1 { // as after an append that was cut short
		t.Errorf("notes: %q", rep.Notes)
	}
	p, err := r.Commit(c.Parents[0])
	if err != nil {
		t.Fatal(err)
	}
	set(p.Parents[0])
	rep, err := r.Verify(context.Background(), nil)
	if err != nil || len(rep.Faults) != 1 || !strings.Contains(rep.Faults[0].Fault, "set back: 2 commits") {
		t.Errorf("%+v, %v", rep, err)
	}
}

// TestEveryFlippedByteIsSeen damages each byte of pack and index in turn.
func TestEveryFlippedByteIsSeen(t *testing.T) {
	r := fresh(t)
	fill(t, r, 2)
	packs, err := filepath.Glob(filepath.Join(r.dir, "objects/pack/pack-*"))
	if err != nil || len(packs) != 4 {
		t.Fatal(packs, err)
	}
	for _, name := range packs[:2] {
		if err := os.Chmod(name, 0o600); err != nil {
			t.Fatal(err)
		}
		whole, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		step := 1 + len(whole)/300
		for i := 0; i < len(whole); i += step {
			bad := slices.Clone(whole)
			bad[i] ^= 0x10
			if err := os.WriteFile(name, bad, 0o600); err != nil {
				t.Fatal(err)
			}
			if seen(t, r.dir) == 0 {
				t.Errorf("%s: byte %d: not seen", filepath.Ext(name), i)
			}
		}
		for _, n := range []int{0, 1, len(whole) / 2, len(whole) - 1} {
			if err := os.WriteFile(name, whole[:n], 0o600); err != nil {
				t.Fatal(err)
			}
			if seen(t, r.dir) == 0 {
				t.Errorf("%s: cut to %d: not seen", filepath.Ext(name), n)
			}
		}
		if err := os.WriteFile(name, whole, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if n := seen(t, r.dir); n != 0 {
		t.Errorf("%d faults in a whole repository", n)
	}
}

// seen returns how many faults a fresh reader finds.
func seen(t *testing.T, dir string) int {
	t.Helper()
	r, err := Open(dir)
	if err != nil {
		return 1
	}
	defer r.Close()
	rep, err := r.Verify(context.Background(), nil)
	if err != nil {
		return 1
	}
	return len(rep.Faults)
}

func TestDelta(t *testing.T) {
	base := []byte("the older surface of the left forearm")
	for _, test := range []struct {
		delta []byte
		want  string
	}{
		{[]byte{37, 5, 5, 'n', 'e', 'w', 'e', 'r'}, "newer"},
		{[]byte{37, 9, 0x90, 4, 5, 'n', 'e', 'w', 'e', 'r'}, "the newer"},
		{[]byte{37, 7, 0x91, 30, 7}, "forearm"},
	} {
		got, err := applyDelta(base, test.delta)
		if err != nil || string(got) != test.want {
			t.Errorf("%v: %q, %v", test.delta, got, err)
		}
	}
	for _, bad := range [][]byte{nil, {37}, {36, 1, 1, 'a'}, {37, 2, 1, 'a'}, {37, 1, 2, 'a'}, {37, 1, 0}, {37, 9, 0x91, 30, 9}, {37, 200, 1, 0x80}, {37, 9, 0x91}} {
		if got, err := applyDelta(base, bad); err == nil {
			t.Errorf("%v: accepted as %q", bad, got)
		}
	}
}

func FuzzDelta(f *testing.F) {
	f.Add([]byte("base text"), []byte{9, 4, 0x90, 4})
	f.Fuzz(func(t *testing.T, base, delta []byte) {
		if out, err := applyDelta(base, delta); err == nil && len(out) > 0 && len(delta) < 3 {
			t.Fatalf("%d bytes out of %v", len(out), delta)
		}
	})
}
