package lines

import (
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/iotest"
)

// Whatever the reads are cut into, the blocks are the text, each ends where a line does, and none ends
// inside a joined line.
func TestBlocksAreTheText(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 40 {
		var b strings.Builder
		for size := r.IntN(900000); b.Len() < size; {
			b.WriteString(strings.Repeat("x", r.IntN(1+r.IntN(1+r.IntN(400000)))))
			b.WriteString([]string{"\n", "\r\n", "\\\n", "\\\r\n", "\n\n"}[r.IntN(5)])
		}
		text := b.String() + []string{"", "end", "end\\\n", "end\\", "end\\\r"}[r.IntN(5)]
		var src io.Reader = strings.NewReader(text)
		if r.IntN(2) == 0 {
			src = iotest.HalfReader(iotest.DataErrReader(src))
		}
		in := NewReader(src)
		var got strings.Builder
		for {
			block, n, err := in.Next()
			if err == io.EOF {
				break
			}
			if err != nil || n == 0 || block[n-1] != '\n' || len(block) < n+Pad {
				t.Fatalf("block of %d bytes, %v", n, err)
			}
			got.Write(block[:n])
			if rest := text[min(got.Len(), len(text)):]; rest != "" && endsJoined(got.String()) {
				t.Fatalf("a block ends in a joined line, %d bytes are left", len(rest))
			}
		}
		if endsJoined(got.String()) {
			t.Fatal("the text ends in a joined line")
		}
		if g := got.String(); g != text && g != text+"\n" && g != text+"\n\n" {
			t.Fatalf("%d bytes became %d", len(text), len(g))
		}
		if in.Bytes != int64(len(text)) || len(in.buf) > 4*blockBytes+2*len(text) {
			t.Errorf("%d bytes counted of %d, buffer of %d", in.Bytes, len(text), len(in.buf))
		}
	}
}

func endsJoined(s string) bool {
	return strings.HasSuffix(s, "\\\n") || strings.HasSuffix(s, "\\\r\n")
}

func TestReadErrorIsPassedOn(t *testing.T) {
	if _, _, err := NewReader(iotest.ErrReader(io.ErrClosedPipe)).Next(); err != io.ErrClosedPipe {
		t.Errorf("got %v", err)
	}
}
