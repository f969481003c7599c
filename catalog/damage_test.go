package catalog

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mien/asset"
	"mien/catalog/record"
	"mien/catalog/store"
)

// stocked returns a catalog with records and three stored files that they name.
func stocked(t *testing.T) (*Catalog, []asset.Hash) {
	t.Helper()
	ctx := context.Background()
	c := start(t)
	if _, err := c.Append(ctx, drafts(12)); err != nil {
		t.Fatal(err)
	}
	var hashes []asset.Hash
	var files []any
	for _, text := range []string{"first mesh", "second mesh", "a texture"} {
		h, size, _, err := c.Store().Put(ctx, strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		hashes = append(hashes, h)
		files = append(files, map[string]any{"hash": h, "size": size, "kind": "mesh"})
	}
	intake := record.Draft{Kind: "intake.add", Subject: "ath-0001", Open: map[string]any{"takes": []any{map[string]any{"files": files}}}}
	if _, err := c.Append(ctx, []record.Draft{intake}); err != nil {
		t.Fatal(err)
	}
	return c, hashes
}

func verify(t *testing.T, dir string) *Report {
	t.Helper()
	c, err := Open(context.Background(), dir, Options{})
	if err != nil {
		if !IsDamage(err) {
			t.Fatal(err)
		}
		return &Report{Faults: []Fault{{Object: "open", Fault: err.Error()}}}
	}
	defer c.Close()
	rep, err := c.Verify(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

func TestVerifyOfAWholeCatalog(t *testing.T) {
	c, _ := stocked(t)
	if _, _, _, err := c.Store().Put(context.Background(), strings.NewReader("named by nobody")); err != nil {
		t.Fatal(err)
	}
	rep := verify(t, c.Dir())
	if rep.Err() != nil || len(rep.Notes) != 0 || rep.Records != 14 || rep.Files != 4 || rep.Spare != 1 || rep.Closed != 0 || rep.Commits != 3 {
		t.Errorf("%+v", rep)
	}
}

// TestVerifyFindsDamage spoils one thing at a time in a fresh catalog.
func TestVerifyFindsDamage(t *testing.T) {
	edit := func(change func([]byte) []byte) func(string) error {
		return func(path string) error {
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			if err := os.Chmod(path, 0o600); err != nil {
				return err
			}
			return os.WriteFile(path, change(b), 0o600)
		}
	}
	flip := edit(func(b []byte) []byte { b[len(b)/2] ^= 4; return b })
	cut := edit(func(b []byte) []byte { return b[:len(b)-1] })
	empty := edit(func(b []byte) []byte { return nil })
	for _, test := range []struct {
		name string
		do   func(path string) error
		at   string // pattern within the catalog
		want string
	}{
		{"bit of a pack", flip, "records.git/objects/pack/*.pack", "check sum"},
		{"pack cut", cut, "records.git/objects/pack/*.pack", ""},
		{"pack gone", os.Remove, "records.git/objects/pack/*.pack", ""},
		{"bit of an index", flip, "records.git/objects/pack/*.idx", ""},
		{"index gone", os.Remove, "records.git/objects/pack/*.idx", ""},
		{"branch gone", os.Remove, "records.git/refs/heads/main", "is missing"},
		{"branch empty", empty, "records.git/refs/heads/main", "allowed is the name of a commit"},
		{"HEAD gone", os.Remove, "records.git/HEAD", "is missing"},
		{"records gone", os.RemoveAll, "records.git", "records.git: is missing"},
		{"store gone", os.RemoveAll, "store", "store: is missing"},
		{"keys gone", os.RemoveAll, "keys", "is missing"},
		{"site gone", os.Remove, "site.yaml", "is missing although"},
		{"site cut", edit(func(b []byte) []byte { return b[:len(b)-30] }), "site.yaml", "not what init writes"},
		{"lock gone", os.Remove, "lock", "lock: is missing"},
		{"catalog key gone", os.Remove, "keys/catalog.key", "catalog.key: is missing"},
		{"subject key gone", os.Remove, "keys/ath-0003.key", "key is missing, 1 records written here"},
		{"subject key changed", edit(func(b []byte) []byte { b[15] ^= 1; return b }), "keys/ath-0003.key", "ath-0003"},
		{"subject key cut", cut, "keys/ath-0003.key", ""},
		{"file bit", flip, "store/??/*", "content hash is"},
		{"file cut", cut, "store/??/*", "content hash is"},
		{"file gone", os.Remove, "store/??/*", "not here"},
	} {
		t.Run(test.name, func(t *testing.T) {
			c, _ := stocked(t)
			paths, err := filepath.Glob(filepath.Join(c.Dir(), filepath.FromSlash(test.at)))
			if err != nil || len(paths) == 0 {
				t.Fatal("nothing to spoil", err)
			}
			if err := test.do(paths[len(paths)-1]); err != nil {
				t.Fatal(err)
			}
			rep := verify(t, c.Dir())
			if test.name == "subject key cut" { // the last line feed is no part of the key
				if rep.Err() != nil {
					t.Error(rep.Err())
				}
				return
			}
			if rep.Err() == nil || !IsDamage(rep.Err()) {
				t.Fatalf("not found: %+v", rep)
			}
			var text []string
			for _, f := range rep.Faults {
				text = append(text, f.Object+": "+f.Fault)
			}
			if !strings.Contains(strings.Join(text, "\n"), test.want) {
				t.Errorf("faults %q, want %q", text, test.want)
			}
			if _, err := Open(context.Background(), c.Dir(), Options{}); errors.Is(err, ErrNoCatalog) {
				t.Errorf("taken for no catalog: %v", err)
			}
		})
	}
}

func TestVerifyFindsSwappedFilesAndStrangers(t *testing.T) {
	c, hashes := stocked(t)
	s := c.Store().(store.Pather)
	a, b, spare := s.Path(hashes[0]), s.Path(hashes[1]), filepath.Join(c.Dir(), "spare")
	for _, move := range [][2]string{{a, spare}, {b, a}, {spare, b}} {
		if err := os.Rename(move[0], move[1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(c.Dir(), storeName, "notes.txt"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	rep := verify(t, c.Dir())
	if len(rep.Faults) != 2 || len(rep.Notes) != 1 {
		t.Errorf("%+v", rep)
	}
}

// TestNoSecretInAnyGitObject unpacks every object of the history and looks for what was sealed, in plain
// and in the text encodings it might hide in.
func TestNoSecretInAnyGitObject(t *testing.T) {
	c, _ := stocked(t)
	secrets := []string{"Invented", "Person", "scar", "brow", "SW52ZW50ZWQ", "496e76656e746564"}
	objects := 0
	err := filepath.WalkDir(filepath.Join(c.Dir(), recordsName), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		texts := [][]byte{data, []byte(path)}
		if filepath.Ext(path) == ".pack" {
			n := int(binary.BigEndian.Uint32(data[8:]))
			for at := 12; at < len(data)-20; n-- {
				for data[at]&0x80 != 0 {
					at++
				}
				r := bytes.NewReader(data[at+1:])
				z, err := zlib.NewReader(r)
				if err != nil {
					return err
				}
				text, err := io.ReadAll(z)
				if err != nil {
					return err
				}
				texts = append(texts, text)
				at = len(data) - r.Len()
				objects++
			}
			if n != 0 {
				t.Errorf("%s: %d objects not looked at", path, n)
			}
		}
		for _, text := range texts {
			for _, s := range secrets {
				if bytes.Contains(text, []byte(s)) {
					t.Errorf("%s shows %q: %.300q", path, s, text)
				}
			}
		}
		return nil
	})
	if err != nil || objects < 14 {
		t.Error(objects, err)
	}
}

func TestDestroyedKey(t *testing.T) {
	ctx := context.Background()
	c, hashes := stocked(t)
	if before, err := c.Entries(ctx); err != nil || before[2].NoKey {
		t.Fatal(err)
	}
	other, err := Open(ctx, c.Dir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := other.Entries(ctx); err != nil {
		t.Fatal(err)
	}
	old, err := os.ReadFile(filepath.Join(c.Dir(), keysName, "ath-0001.key"))
	if err != nil {
		t.Fatal(err)
	}
	if err := c.DestroyKey(ctx, "ath-0001"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []*Catalog{c, other} {
		entries, err := c.Entries(ctx)
		if err != nil {
			t.Fatal(err)
		}
		closed := 0
		for _, e := range entries {
			if e.NoKey {
				closed++
				if e.Subject != "ath-0001" || e.Sealed != nil {
					t.Errorf("%+v", e)
				}
			}
		}
		if closed != 2 {
			t.Errorf("%d closed, want 2", closed)
		}
		var destroyed *KeyDestroyedError
		if _, err := c.Append(ctx, []record.Draft{draft(1)}); !errors.As(err, &destroyed) {
			t.Errorf("sealed after the key was destroyed: %v", err)
		}
		open := draft(1)
		open.Sealed = nil
		if _, err := c.Append(ctx, []record.Draft{open}); err != nil {
			t.Error(err)
		}
	}
	for _, h := range hashes { // the files of an erased subject go as well
		if err := c.Store().Remove(ctx, h); err != nil {
			t.Fatal(err)
		}
	}
	if rep := verify(t, c.Dir()); rep.Err() != nil || rep.Closed != 2 {
		t.Errorf("%+v", rep)
	}
	left, err := os.ReadFile(filepath.Join(c.Dir(), keysName, "ath-0001.key"))
	if err != nil || bytes.Contains(left, old[len(keyIntro)+1:len(old)-1]) {
		t.Errorf("key file holds %q, %v", left, err)
	}
}

func TestNewerRecordsAreKept(t *testing.T) {
	ctx := context.Background()
	c := start(t)
	later := record.Draft{Kind: "orbit.decide", Subject: "ath-0009", Open: map[string]any{"novel": []any{1, "x"}}}
	ids, err := c.Append(ctx, []record.Draft{later, draft(1)})
	if err != nil {
		t.Fatal(err)
	}
	entries, err := c.Entries(ctx)
	if err != nil || entries[1].ID != ids[0] || entries[1].Kind != "orbit.decide" || string(entries[1].Open) != `{"novel":[1,"x"]}` {
		t.Errorf("%+v, %v", entries[1], err)
	}
}

func TestInitAndOpenRefuse(t *testing.T) {
	ctx := context.Background()
	root := t.TempDir()
	if _, err := Open(ctx, filepath.Join(root, "none"), Options{}); !errors.Is(err, ErrNoCatalog) {
		t.Errorf("no folder: %v", err)
	}
	if _, err := Open(ctx, root, Options{}); !errors.Is(err, ErrNoCatalog) || IsDamage(err) {
		t.Errorf("empty folder: %v", err)
	}
	if err := os.WriteFile(filepath.Join(root, "scan.obj"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Init(ctx, root, InitOptions{}); err == nil || !strings.Contains(err.Error(), `holds "scan.obj"`) {
		t.Errorf("folder in use: %v", err)
	}
	for _, site := range []string{"Road", "a b", "-a", strings.Repeat("a", 59)} {
		if _, err := Init(ctx, filepath.Join(root, "x"), InitOptions{Site: site}); err == nil {
			t.Errorf("site %q accepted", site)
		}
	}
	c, err := Init(ctx, filepath.Join(root, "deep", "cat"), InitOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := Init(ctx, c.Dir(), InitOptions{}); err == nil {
		t.Error("a catalog was made over a catalog")
	}
	err = filepath.WalkDir(c.Dir(), func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err == nil && (d.IsDir() || strings.HasSuffix(path, ".key")) && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: mode %v", path, info.Mode())
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

func TestInitCutShortBeginsAgain(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "cat")
	for _, left := range []string{"", "records.git/objects", "keys"} {
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll(filepath.Join(dir, filepath.FromSlash(left)), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, beganName), nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(ctx, dir, Options{}); !errors.Is(err, ErrNoCatalog) || !strings.Contains(err.Error(), "did not finish") {
			t.Errorf("open: %v", err)
		}
		c, err := Init(ctx, dir, InitOptions{})
		if err != nil {
			t.Fatal(err)
		}
		c.Close()
		if rep := verify(t, dir); rep.Err() != nil {
			t.Error(rep.Err())
		}
	}
}
