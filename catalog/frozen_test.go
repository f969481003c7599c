package catalog

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"encoding/hex"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/zeebo/blake3"

	"mien/catalog/record"
)

var freeze = flag.Bool("freeze", false, "write the frozen catalog of this format anew")

const frozenFile = "testdata/format-1.tar.gz"

// frozenDigest is the BLAKE3 of what a fold reads from the frozen catalog; -freeze prints it.
const frozenDigest = "96a45d9bfe636e63ca6604222bcbdf3028da10283cbdd9d765ed092bb7429798"

// TestFrozenCatalogIsReadForEver opens a catalog that an earlier program wrote. It must read the same for as
// long as there is a program.
func TestFrozenCatalogIsReadForEver(t *testing.T) {
	ctx := context.Background()
	if *freeze {
		writeFrozen(t)
	}
	dir := t.TempDir()
	unpack(t, dir)
	c, err := Open(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	entries, err := c.Entries(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if got := digest(entries); got != frozenDigest {
		t.Errorf("%d entries with digest %s, want %s", len(entries), got, frozenDigest)
	}
	if rep, err := c.Verify(ctx, nil); err != nil || rep.Err() != nil || rep.Files != 3 {
		t.Errorf("%+v, %v", rep, err)
	}
	if _, err := c.Append(ctx, drafts(1)); err != nil {
		t.Error(err)
	}
}

// digest hashes everything that a fold sees.
func digest(entries []record.Entry) string {
	h := blake3.New()
	for _, e := range entries {
		for _, part := range [...]string{e.ID.String(), e.Path(), string(e.Kind), e.Subject, e.By, string(e.Open), string(e.Sealed)} {
			h.Write([]byte(part + "\n"))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

func unpack(t *testing.T, dir string) {
	t.Helper()
	f, err := os.Open(frozenFile)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, filepath.FromSlash(h.Name))
		if strings.HasSuffix(h.Name, "/") {
			err = os.MkdirAll(path, 0o700)
		} else if text, bad := io.ReadAll(r); bad != nil {
			err = bad
		} else {
			err = os.WriteFile(path, text, h.FileInfo().Mode())
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// writeFrozen makes the catalog that is frozen: several packs, sites, kinds of record and an erased subject.
func writeFrozen(t *testing.T) {
	t.Helper()
	ctx := context.Background()
	at := time.Date(2026, 10, 3, 9, 0, 0, 0, time.UTC)
	dir := filepath.Join(t.TempDir(), "cat")
	c, err := Init(ctx, dir, InitOptions{Site: "road", By: "manager-1", Now: func() time.Time { at = at.Add(time.Minute); return at }})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	for i := range 4 {
		if _, err := c.Append(ctx, drafts(3+i)); err != nil {
			t.Fatal(err)
		}
	}
	var files []any
	for _, text := range []string{"first mesh", "second mesh", "a texture"} {
		h, size, _, err := c.Store().Put(ctx, strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, map[string]any{"hash": h, "size": size})
	}
	intake := record.Draft{Kind: "intake.add", Subject: "ath-0001", Open: map[string]any{"files": files}}
	if _, err := c.Append(ctx, []record.Draft{intake}); err != nil {
		t.Fatal(err)
	}
	if err := c.DestroyKey(ctx, "ath-0002"); err != nil {
		t.Fatal(err)
	}
	entries, err := c.Entries(ctx)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("digest %s", digest(entries))

	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	w := tar.NewWriter(z)
	if err := w.AddFS(os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Close(), z.Close(), os.MkdirAll("testdata", 0o755), os.WriteFile(frozenFile, out.Bytes(), 0o644)); err != nil {
		t.Fatal(err)
	}
}
