package git

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// fresh returns an empty repository.
func fresh(t testing.TB) *Repo {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "records.git")
	if err := Init(dir); err != nil {
		t.Fatal(err)
	}
	r, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
}

func file(i int) File {
	return File{
		Path: fmt.Sprintf("e/road-%04d/2026/%02d/%06d.json", i%3, i%7, i),
		Data: []byte(fmt.Sprintf(`{"n":%d,"text":"%s"}`, i, strings.Repeat("x", i%50))),
	}
}

// fill adds n files, a few at a time, and returns the newest commit.
func fill(t testing.TB, r *Repo, n int) Hash {
	t.Helper()
	var head Hash
	for i := 0; i < n; {
		b := Batch{Author: "road-0001", When: time.Unix(1_790_000_000+int64(i), 0), Message: "records"}
		for k := range 1 + i%4 {
			b.Files = append(b.Files, file(i+k))
		}
		i += len(b.Files)
		var err error
		if head, err = r.Append(head, b); err != nil {
			t.Fatal(err)
		}
		if err := r.RollUp(); err != nil {
			t.Fatal(err)
		}
	}
	return head
}

// all reads every file of a commit.
func all(t testing.TB, r *Repo, head Hash) map[string]string {
	t.Helper()
	leaves, lost, err := r.Changes(context.Background(), Hash{}, head)
	if err != nil || len(lost) > 0 {
		t.Fatal(len(lost), err)
	}
	files := map[string]string{}
	for i, leaf := range leaves {
		b, err := r.Blob(leaf.Hash)
		if err != nil {
			t.Fatal(err)
		}
		if i > 0 && leaves[i-1].Path() >= leaf.Path() {
			t.Errorf("%s comes after %s", leaf.Path(), leaves[i-1].Path())
		}
		files[leaf.Path()] = string(b)
	}
	return files
}

func wantFiles(t testing.TB, got map[string]string, n int) {
	t.Helper()
	if len(got) < n {
		t.Fatalf("%d files, want %d", len(got), n)
	}
	for i := range len(got) {
		if f := file(i); got[f.Path] != string(f.Data) {
			t.Fatalf("%s holds %q", f.Path, got[f.Path])
		}
	}
}

func sound(t testing.TB, r *Repo) *Report {
	t.Helper()
	rep, err := r.Verify(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range rep.Faults {
		t.Errorf("fault: %v", &f)
	}
	return rep
}

func TestAppendReadsBack(t *testing.T) {
	r := fresh(t)
	head := fill(t, r, 150)
	wantFiles(t, all(t, r, head), 150)
	again, err := Open(r.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if got, err := again.Head(); got != head || err != nil {
		t.Fatal(got, err)
	}
	wantFiles(t, all(t, again, head), 150)
	if n := len(again.obj.packs); n > maxPacks {
		t.Errorf("%d packs, want at most %d", n, maxPacks)
	}
	if rep := sound(t, again); rep.Commits != 39 || len(rep.Notes) != 0 {
		t.Errorf("%+v", rep)
	}
}

func TestAppendRefuses(t *testing.T) {
	r := fresh(t)
	head := fill(t, r, 10)
	add := func(parent Hash, files ...File) error {
		_, err := r.Append(parent, Batch{Files: files, Author: "a", Message: "m"})
		return err
	}
	var damage *DamageError
	if err := add(head, File{file(3).Path, []byte("other")}); !errors.As(err, &damage) {
		t.Errorf("other bytes under one path: %v", err)
	}
	if err := add(head, File{"e/x", []byte("1")}, File{"e/x", []byte("2")}); err == nil {
		t.Error("one path twice in a batch with different bytes was accepted")
	}
	for _, path := range []string{"", "/a", "a/", "a//b", "../a", "a/./b", "a/.git/b", `a\b`, "a:b"} {
		if err := add(head, File{path, nil}); !errors.Is(err, errPath) {
			t.Errorf("%q: %v", path, err)
		}
	}
	c, err := r.Commit(head)
	if err != nil {
		t.Fatal(err)
	}
	if err := add(c.Parents[0], file(50)); !errors.Is(err, ErrMoved) {
		t.Errorf("old parent: %v", err)
	}
	if err := add(Hash{}, file(50)); !errors.Is(err, ErrMoved) {
		t.Errorf("no parent: %v", err)
	}
	if got, err := r.Head(); got != head || err != nil {
		t.Errorf("branch moved to %s, %v", got, err)
	}
}

// TestReadersBesideAWriter reads while packs are added and rolled up by somebody else.
func TestReadersBesideAWriter(t *testing.T) {
	w := fresh(t)
	fill(t, w, 1)
	r, err := Open(w.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	done := make(chan error)
	go func() {
		head, err := w.Head()
		for i := 1; i < 80 && err == nil; i++ {
			if head, err = w.Append(head, Batch{Files: []File{file(i)}, Author: "a", Message: "m"}); err == nil {
				err = w.RollUp()
			}
		}
		done <- err
	}()
	reads := 0
	for {
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			head, err := r.Head()
			if err != nil {
				t.Fatal(err)
			}
			wantFiles(t, all(t, r, head), 80)
			t.Logf("%d reads", reads)
			return
		default:
			head, err := r.Head()
			if err != nil {
				t.Fatal(err)
			}
			wantFiles(t, all(t, r, head), 1)
			reads++
		}
	}
}

func BenchmarkAppendToLongHistory(b *testing.B) {
	r := fresh(b)
	var big Batch
	for i := range 50_000 {
		big.Files = append(big.Files, File{Path: fmt.Sprintf("e/s/2026/%02d/%02d/%02d/%06d.json", i/5000, i/200%25, i/20%10, i), Data: file(i).Data})
	}
	big.Author, big.Message = "a", "m"
	head, err := r.Append(Hash{}, big)
	if err != nil {
		b.Fatal(err)
	}
	n := 0
	for b.Loop() {
		again, err := Open(r.dir)
		if err != nil {
			b.Fatal(err)
		}
		n++
		f := File{Path: fmt.Sprintf("e/s/2026/99/%06d.json", n), Data: []byte("x")}
		if head, err = again.Append(head, Batch{Files: []File{f}, Author: "a", Message: "m"}); err != nil {
			b.Fatal(err)
		}
		if err := again.RollUp(); err != nil {
			b.Fatal(err)
		}
		again.Close()
	}
}
