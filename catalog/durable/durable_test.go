package durable

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func names(t *testing.T, dir string) (out []string) {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		out = append(out, f.Name())
	}
	return out
}

func TestWriteReplacesAsAWhole(t *testing.T) {
	path := filepath.Join(t.TempDir(), "key")
	for _, text := range []string{"first", "", "second, longer"} {
		if err := Write(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(path)
		if err != nil || string(got) != text {
			t.Errorf("holds %q, %v", got, err)
		}
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if got := names(t, filepath.Dir(path)); len(got) != 1 {
		t.Errorf("left behind: %q", got)
	}
}

func TestUnfinishedFileIsDiscardedOrSwept(t *testing.T) {
	dir := t.TempDir()
	f, err := Temp(dir)
	if err != nil {
		t.Fatal(err)
	}
	f.Discard()
	if got := names(t, dir); len(got) != 0 {
		t.Errorf("left behind: %q", got)
	}
	if f, err = Temp(dir); err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := os.WriteFile(filepath.Join(dir, "kept"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Sweep(dir); err != nil {
		t.Fatal(err)
	}
	if got := names(t, dir); len(got) != 1 || got[0] != "kept" {
		t.Errorf("after sweep: %q", got)
	}
}

func TestProbe(t *testing.T) {
	dir := t.TempDir()
	if err := Probe(dir); err != nil {
		t.Error(err)
	}
	if got := names(t, dir); len(got) != 0 {
		t.Errorf("left behind: %q", got)
	}
	var place *PlaceError
	if err := Probe(filepath.Join(dir, "none")); !errors.As(err, &place) || place.Hint() == "" {
		t.Errorf("missing folder: %v", err)
	}
}

func TestMkdir(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a", "b")
	for range 2 {
		if err := Mkdir(dir); err != nil {
			t.Fatal(err)
		}
	}
	if info, err := os.Stat(dir); err != nil || info.Mode().Perm() != 0o700 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Mkdir(filepath.Join(file, "c")); err == nil {
		t.Error("a folder was made below a file")
	}
}
