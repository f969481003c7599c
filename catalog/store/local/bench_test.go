package local

import (
	"bytes"
	"context"
	"encoding/binary"
	"path/filepath"
	"testing"

	"mien/catalog/store"
)

// BenchmarkStore writes and reads files of 32 MiB, the size of a head scan with its textures.
func BenchmarkStore(b *testing.B) {
	ctx := context.Background()
	data := make([]byte, 32<<20)
	s, err := Init(filepath.Join(b.TempDir(), "store"))
	if err != nil {
		b.Fatal(err)
	}
	b.Run("put", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		n := uint64(0)
		for b.Loop() {
			n++
			binary.LittleEndian.PutUint64(data, n)
			h, _, _, err := s.Put(ctx, bytes.NewReader(data))
			if err == nil {
				err = s.Remove(ctx, h)
			}
			if err != nil {
				b.Fatal(err)
			}
		}
	})
	h, _, _, err := s.Put(ctx, bytes.NewReader(data))
	if err != nil {
		b.Fatal(err)
	}
	b.Run("put again", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			if _, _, existed, err := s.Put(ctx, bytes.NewReader(data)); err != nil || !existed {
				b.Fatal(existed, err)
			}
		}
	})
	b.Run("check", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			if _, err := store.Check(ctx, s, h); err != nil {
				b.Fatal(err)
			}
		}
	})
}
