package git

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestBytesStand pins what is written: records are signed over their names, and copies of a catalog meet
// only if both write the same bytes.
func TestBytesStand(t *testing.T) {
	head := fill(t, fresh(t), 60)
	if want := "ce5018319d7d92d51152e211c68874c119759707"; head.String() != want { // as of format 1
		t.Errorf("newest commit is %s, want %s", head, want)
	}
	dir := t.TempDir()
	if err := Init(dir); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(filepath.Join(dir, "config"))
	want := "[core]\n\trepositoryformatversion = 0\n\tfilemode = false\n\tbare = true\n\tlogallrefupdates = false\n" +
		"[gc]\n\tauto = 0\n\tpackRefs = false\n[receive]\n\tdenyNonFastForwards = true\n\tdenyDeletes = true\n"
	if err != nil || string(got) != want {
		t.Errorf("config %q, %v", got, err)
	}
}

// TestIndexAgrees lets the git client make the index of each pack.
func TestIndexAgrees(t *testing.T) {
	r := fresh(t)
	fill(t, r, 60)
	for _, p := range r.obj.list() {
		made := filepath.Join(t.TempDir(), "made.idx")
		client(t, r.dir, "index-pack", "-o", made, filepath.Join(r.obj.folder(), p.name+".pack"))
		want, err := os.ReadFile(made)
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(filepath.Join(r.obj.folder(), p.name+".idx"))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s: index differs from the client's, %v", p.name, err)
		}
	}
}

func TestTreeRefuses(t *testing.T) {
	id := strings.Repeat("i", 20)
	good := "100644 a\x00" + id + "40000 b\x00" + id
	entries, err := parseTree([]byte(good))
	if err != nil || len(entries) != 2 || string(encodeTree(entries)) != good {
		t.Fatal(entries, err)
	}
	for name, bad := range map[string]string{
		"mode 100664":   "100664 a\x00" + id,
		"mode 100755":   "100755 a\x00" + id,
		"mode 0100644":  "0100644 a\x00" + id,
		"mode 040000":   "040000 a\x00" + id,
		"mode 120000":   "120000 a\x00" + id,
		"no mode":       " a\x00" + id,
		"no name":       "100644 \x00" + id,
		"slash":         "100644 a/b\x00" + id,
		"order":         "100644 b\x00" + id + "100644 a\x00" + id,
		"cut in a name": "100644 a",
		"cut in a hash": "100644 a\x00" + id[1:],
		"no space":      "100644",
		"more":          good + "1",
	} {
		if entries, err := parseTree([]byte(bad)); err == nil {
			t.Errorf("%s: accepted as %v", name, entries)
		}
	}
}

func FuzzTree(f *testing.F) {
	f.Add([]byte("100644 a\x00" + strings.Repeat("i", 20) + "40000 b\x00" + strings.Repeat("i", 20)))
	f.Fuzz(func(t *testing.T, content []byte) {
		entries, err := parseTree(content)
		if err == nil && !bytes.Equal(encodeTree(entries), content) {
			t.Fatalf("%q reads as %v", content, entries)
		}
	})
}

func TestCommitRefuses(t *testing.T) {
	c := Commit{Tree: Hash{1}, Parents: []Hash{{2}, {3}}, Author: "road-0001", When: time.Unix(1_790_000_000, 0).UTC(), Message: "records"}
	good := string(c.encode())
	got, err := parseCommit(Hash{}, []byte(good))
	if err != nil || fmt.Sprint(*got) != fmt.Sprint(c) {
		t.Fatalf("%+v, %v", got, err)
	}
	for name, bad := range map[string]string{
		"nothing":   "",
		"no tree":   strings.Replace(good, "tree ", "free ", 1),
		"zero tree": strings.Replace(good, Hash{1}.String(), Hash{}.String(), 1),
		"short":     good[:30],
		"parent":    strings.Replace(good, "parent 02", "parent xx", 1),
		"author":    strings.Replace(good, "author", "writer", 1),
		"time":      strings.ReplaceAll(good, "1790000000", "noon"),
	} {
		if got, err := parseCommit(Hash{}, []byte(bad)); err == nil {
			t.Errorf("%s: accepted as %+v", name, got)
		}
	}
}

func FuzzCommit(f *testing.F) {
	f.Add((&Commit{Tree: Hash{1}, Parents: []Hash{{2}}, Author: "a", Message: "m"}).encode())
	f.Fuzz(func(t *testing.T, content []byte) {
		if c, err := parseCommit(Hash{}, content); err == nil && c.Tree.IsZero() {
			t.Fatalf("%q has no tree", content)
		}
	})
}

// TestLooseRefuses reads spoiled objects that stand in files of their own.
func TestLooseRefuses(t *testing.T) {
	r := fresh(t)
	deflated := func(text string) []byte {
		var b bytes.Buffer
		z := zlib.NewWriter(&b)
		z.Write([]byte(text))
		z.Close()
		return b.Bytes()
	}
	h := hashObject(typeBlob, []byte("text"))
	path := filepath.Join(r.obj.dir, h.String()[:2], h.String()[2:])
	if err := os.Mkdir(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	whole := deflated("blob 4\x00text")
	spoiled := map[string][]byte{
		"nothing":        nil,
		"not compressed": []byte("blob 4\x00text"),
		"cut":            whole[:len(whole)-6],
		"other content":  deflated("blob 4\x00next"),
		"other type":     deflated("tree 4\x00text"),
		"unknown type":   deflated("blub 4\x00text"),
		"a change":       deflated("ofs-delta 4\x00text"),
		"shorter":        deflated("blob 5\x00text"),
		"longer":         deflated("blob 3\x00text"),
		"negative":       deflated("blob -4\x00text"),
		"no end of head": deflated(strings.Repeat("blob", 64<<20>>2)),
	}
	for name, data := range spoiled {
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if got, err := r.Blob(h); err == nil {
			t.Errorf("%s: accepted as %q", name, got)
		}
	}
	if err := os.WriteFile(path, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	if got, err := r.Blob(h); err != nil || string(got) != "text" {
		t.Errorf("%q, %v", got, err)
	}
}

// TestGuard is for a library that panics on bytes it did not expect.
func TestGuard(t *testing.T) {
	var none []byte
	read := func() (err error) {
		defer guard(&err)
		return fmt.Errorf("%d", none[0])
	}
	err := read()
	if err == nil || !strings.Contains(err.Error(), "malformed") {
		t.Error(err)
	}
}

// FuzzPack opens, lists and scans packs and indexes of any bytes.
func FuzzPack(f *testing.F) {
	w := newPackWriter()
	w.add(typeBlob, []byte("text"))
	w.add(typeTree, bytes.Repeat([]byte("t"), 5000))
	pack, index, _, err := w.finish()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(pack, index)
	f.Fuzz(func(t *testing.T, pack, index []byte) {
		dir := t.TempDir()
		for suffix, data := range map[string][]byte{".pack": pack, ".idx": index} {
			if err := os.WriteFile(filepath.Join(dir, "pack-x"+suffix), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		p, err := openPack(dir, "pack-x")
		if err != nil {
			return
		}
		defer p.close()
		p.checkSum()
		objects, err := p.entries()
		if len(objects) > len(index)/28 {
			t.Fatalf("%d objects in an index of %d bytes, %v", len(objects), len(index), err)
		}
		s := newScan(p)
		s.count()
		for _, o := range objects {
			s.object(o)
		}
		newPackWriter().absorb(p)
	})
}

// TestRereadSeesEveryByte spoils what a roll-up wrote before it is read again.
func TestRereadSeesEveryByte(t *testing.T) {
	w := newPackWriter()
	for i := range 5 {
		w.add(typeBlob, file(i).Data)
	}
	dir := t.TempDir()
	name, err := w.place(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := reread(dir, name, w.objects); err != nil {
		t.Fatal(err)
	}
	if err := reread(dir, name, w.objects[1:]); err == nil {
		t.Error("one object more than was written: accepted")
	}
	for _, suffix := range []string{".pack", ".idx"} {
		path := filepath.Join(dir, name+suffix)
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(path, 0o600); err != nil {
			t.Fatal(err)
		}
		for i := 0; i < len(whole); i += 1 + len(whole)/100 {
			bad := bytes.Clone(whole)
			bad[i] ^= 4
			if err := os.WriteFile(path, bad, 0o600); err != nil {
				t.Fatal(err)
			}
			if reread(dir, name, w.objects) == nil {
				t.Errorf("%s: byte %d: accepted", suffix, i)
			}
		}
		if err := os.WriteFile(path, whole, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}
