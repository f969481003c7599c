package git

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	gogit "github.com/go-git/go-git/v5"
	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/object"
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

// TestLibraryAgrees reads the history with an independent library.
func TestLibraryAgrees(t *testing.T) {
	r := fresh(t)
	head := fill(t, r, 60)
	lib, err := gogit.PlainOpen(r.dir)
	if err != nil {
		t.Fatal(err)
	}
	commit, err := lib.CommitObject(plumbing.Hash(head))
	if err != nil {
		t.Fatal(err)
	}
	files, err := commit.Files()
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	err = files.ForEach(func(f *object.File) error {
		text, err := f.Contents()
		got[f.Name] = text
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	wantFiles(t, got, 60)
	if commit.Author.Name != "road-0001" || commit.Author.Email != "road-0001@mien.invalid" || commit.Message != "records\n" {
		t.Errorf("%+v %q", commit.Author, commit.Message)
	}
}

func client(t testing.TB, dir string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("needs a git client")
	}
	cmd := exec.Command("git", args...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "GIT_CONFIG_NOSYSTEM=1", "HOME="+t.TempDir(), "LC_ALL=C")
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("git %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// TestClientAgrees lets the git client check and clone the history, then repack it into changes to base
// objects and moved references, and reads and extends what it made.
func TestClientAgrees(t *testing.T) {
	r := fresh(t)
	head := fill(t, r, 90)
	if out := client(t, r.dir, "fsck", "--full", "--strict"); out != "" {
		t.Errorf("fsck: %s", out)
	}
	clone := filepath.Join(t.TempDir(), "clone")
	client(t, ".", "clone", "-q", r.dir, clone)
	got, err := os.ReadFile(filepath.Join(clone, filepath.FromSlash(file(5).Path)))
	if err != nil || string(got) != string(file(5).Data) {
		t.Errorf("clone holds %q, %v", got, err)
	}

	client(t, r.dir, "repack", "-adfq", "--depth=50", "--window=50")
	client(t, r.dir, "pack-refs", "--all")
	wantFiles(t, all(t, r, head), 90)
	again, err := Open(r.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	deltas := 0
	for i := range again.obj.packs[0].count {
		off, err := again.obj.packs[0].offsetAt(i)
		if err != nil {
			t.Fatal(err)
		}
		if hd, err := again.obj.packs[0].head(off); err != nil {
			t.Fatal(err)
		} else if hd.typ == typeOffset {
			deltas++
		}
	}
	if deltas == 0 {
		t.Error("the client made no changes to base objects: nothing was tried")
	}
	head, err = again.Head()
	if err != nil {
		t.Fatal(err)
	}
	next, err := again.Append(head, Batch{Files: []File{{Path: "e/new", Data: []byte("1")}}, Author: "a", When: time.Unix(0, 0), Message: "m"})
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.TrimSpace(client(t, r.dir, "rev-parse", "main")); got != next.String() {
		t.Errorf("client sees %s, want %s", got, next)
	}
	sound(t, again)
}

// TestLooseObjects reads objects that stand in files of their own.
func TestLooseObjects(t *testing.T) {
	r := fresh(t)
	head := fill(t, r, 30)
	packs, err := filepath.Glob(filepath.Join(r.dir, "objects/pack/*.pack"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range packs {
		data, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{p, strings.TrimSuffix(p, ".pack") + ".idx"} {
			if err := os.Remove(name); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := exec.LookPath("git"); err != nil {
			t.Skip("needs a git client")
		}
		cmd := exec.Command("git", "unpack-objects", "-q")
		cmd.Dir, cmd.Stdin = r.dir, bytes.NewReader(data)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	again, err := Open(r.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	wantFiles(t, all(t, again, head), 30)
}

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
