package beside

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
)

func TestFind(t *testing.T) {
	dir := t.TempDir()
	in := filepath.Join(dir, "in")
	for _, n := range []string{"secret.png", "in/a.png", "in/sub/B c.PNG", "in/sub/deep/d.png"} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, n)), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, n), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink("../secret.png", filepath.Join(in, "link.png")); err != nil {
		t.Fatal(err)
	}
	root, err := os.OpenRoot(in)
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	for _, c := range []struct{ base, name, want string }{
		{".", "a.png", "a.png"},
		{".", "./A.PNG", "a.png"},
		{"sub", "a.png", "a.png"},
		{".", `C:\work\a.png`, "a.png"},
		{".", "/elsewhere/a.png", "a.png"},
		{".", "../a.png", "a.png"},
		{"sub", "../a.png", "a.png"},
		{"sub", "b C.png", "sub/B c.PNG"},
		{".", `sub\b c.png`, "sub/B c.PNG"},
		{"sub", `deep\d.png`, "sub/deep/d.png"},
		{".", "../secret.png", ""},
		{".", "link.png", ""},
		{".", "sub", ""},
		{".", "", ""},
		{".", "..", ""},
		{".", "gone.png", ""},
	} {
		if got, ok := Find(root.FS(), c.base, c.name); got != c.want || ok != (c.want != "") {
			t.Errorf("%q from %q: %q, want %q", c.name, c.base, got, c.want)
		}
	}
	if _, ok := Find(nil, ".", "a.png"); ok {
		t.Error("found without a folder")
	}
}

// unlisted is a folder whose files can be opened but not listed.
type unlisted struct{ fstest.MapFS }

func (u unlisted) ReadDir(string) ([]fs.DirEntry, error) { return nil, fs.ErrPermission }

func TestFolderThatCannotBeListed(t *testing.T) {
	dir := unlisted{fstest.MapFS{"a.png": {}, "sub/b.png": {}}}
	for name, want := range map[string]string{`C:\x\a.png`: "a.png", "/x/b.png": "sub/b.png", "A.png": ""} {
		if got, _ := Find(dir, "sub", name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}
