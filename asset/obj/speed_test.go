package obj

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"testing"
)

// BenchmarkDecode reads a grid, or the file that MIEN_BENCH_OBJ names.
func BenchmarkDecode(b *testing.B) {
	data := grid(300)
	if p := os.Getenv("MIEN_BENCH_OBJ"); p != "" {
		var err error
		if data, err = os.ReadFile(p); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Decode(context.Background(), "bench.obj", bytes.NewReader(data), nil); err != nil {
			b.Fatal(err)
		}
	}
}

// grid returns a sheet of n by n vertices with texture coordinates and normals, as scans are written.
func grid(n int) []byte {
	var b bytes.Buffer
	for i := range n * n {
		fmt.Fprintf(&b, "v %.6f %.6f %.6f\n", float64(i%n)/float64(n), float64(i/n)/float64(n), float64(i*7%13)/1e4-.5)
	}
	for i := range n * n {
		fmt.Fprintf(&b, "vt %.6f %.6f\n", float64(i%n)/float64(n), float64(i/n)/float64(n))
	}
	for range n * n {
		b.WriteString("vn 0.0000 0.0000 1.0000\n")
	}
	corner := func(i int) { fmt.Fprintf(&b, " %d/%d/%d", i, i, i) }
	for y := range n - 1 {
		for x := range n - 1 {
			a := y*n + x + 1
			for _, t := range [2][3]int{{a, a + 1, a + n + 1}, {a, a + n + 1, a + n}} {
				b.WriteString("f")
				corner(t[0])
				corner(t[1])
				corner(t[2])
				b.WriteString("\n")
			}
		}
	}
	return b.Bytes()
}
