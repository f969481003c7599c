package catalog

import (
	"context"
	"fmt"
	"testing"
)

func BenchmarkAppend(b *testing.B) {
	for _, n := range []int{1, 500} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			c := start(b)
			for b.Loop() {
				if _, err := c.Append(context.Background(), drafts(n)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkEntries opens and reads a catalog as a fresh process does.
func BenchmarkEntries(b *testing.B) {
	for _, n := range []int{5_000, 50_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			ctx := context.Background()
			c := start(b)
			for range n / 500 {
				if _, err := c.Append(ctx, drafts(500)); err != nil {
					b.Fatal(err)
				}
			}
			for b.Loop() {
				again, err := Open(ctx, c.Dir(), Options{})
				if err != nil {
					b.Fatal(err)
				}
				entries, err := again.Entries(ctx)
				if err != nil || len(entries) != n+1 {
					b.Fatal(len(entries), err)
				}
				again.Close()
			}
		})
	}
}
