package git

import (
	"context"
	"fmt"
	"testing"
	"time"
)

const benchFiles = 50_000

// long returns a repository of benchFiles records in batches of 500, and its newest commit.
func long(b *testing.B) (*Repo, Hash) {
	r := fresh(b)
	var head Hash
	for i := 0; i < benchFiles; {
		batch := Batch{Author: "road-0001", When: time.Unix(1_790_000_000+int64(i), 0), Message: "records"}
		for range 500 {
			path := fmt.Sprintf("e/s/2026/%02d/%02d/%02d/%06d.json", i/5000, i/200%25, i/20%10, i)
			batch.Files = append(batch.Files, File{Path: path, Data: fmt.Appendf(nil, "%0400d", i)})
			i++
		}
		var err error
		if head, err = r.Append(head, batch); err != nil {
			b.Fatal(err)
		}
		if err := r.RollUp(); err != nil {
			b.Fatal(err)
		}
	}
	return r, head
}

// BenchmarkReadHistory reads every record as a fresh process does.
func BenchmarkReadHistory(b *testing.B) {
	r, head := long(b)
	for b.Loop() {
		again, err := Open(r.dir)
		if err != nil {
			b.Fatal(err)
		}
		if err := again.Load(); err != nil {
			b.Fatal(err)
		}
		leaves, _, err := again.Changes(context.Background(), Hash{}, head)
		if err != nil || len(leaves) != benchFiles {
			b.Fatal(len(leaves), err)
		}
		for _, leaf := range leaves {
			if _, err := again.Blob(leaf.Hash); err != nil {
				b.Fatal(err)
			}
		}
		again.Close()
	}
}

func BenchmarkVerify(b *testing.B) {
	r, _ := long(b)
	for b.Loop() {
		if rep, err := r.Verify(context.Background(), nil); err != nil || len(rep.Faults) > 0 {
			b.Fatal(rep, err)
		}
	}
}

// BenchmarkRollUpAll merges all packs of a long history.
func BenchmarkRollUpAll(b *testing.B) {
	r, _ := long(b)
	for b.Loop() {
		w := newPackWriter()
		for _, p := range r.obj.list() {
			if plain, err := w.absorb(p); err != nil || !plain {
				b.Fatal(plain, err)
			}
		}
		room := b.TempDir()
		name, err := w.place(room)
		if err != nil {
			b.Fatal(err)
		}
		if err := reread(room, name, w.objects); err != nil {
			b.Fatal(err)
		}
	}
}
