package git

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	gogit "github.com/go-git/go-git/v5"
	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/object"
)

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
