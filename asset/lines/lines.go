// Package lines reads a text in blocks of whole lines, so that a parser walks plain bytes and needs no
// copy of a line.
package lines

import (
	"bytes"
	"errors"
	"io"
)

const (
	// Pad is the count of bytes that may be read behind a block; they mean nothing.
	Pad = 8

	blockBytes = 256 << 10
)

// Reader cuts a text into blocks.
type Reader struct {
	r     io.Reader
	buf   []byte
	start int // of what the last block left
	end   int
	eof   bool

	Bytes int64 // of the text so far
}

// NewReader returns a reader of r's text.
func NewReader(r io.Reader) *Reader { return &Reader{r: r, buf: make([]byte, blockBytes+Pad)} }

// Next returns the next whole lines: block[:n] ends with a line feed, which is added to the text's last
// line when it has none, and one more when that would join it to nothing. A line feed after a backslash, which joins two lines, never ends a block.
// The block is valid until the next call. At the end of the text n is 0 and err [io.EOF].
//
// Memory grows with the longest line, never beyond twice what was read.
func (r *Reader) Next() (block []byte, n int, err error) {
	copy(r.buf, r.buf[r.start:r.end])
	r.start, r.end = 0, r.end-r.start
	seen := 0
	for {
		n := lastEnd(r.buf[:r.end], seen)
		if n > 0 && (r.eof || r.end >= blockBytes/2) {
			r.start = n
			return r.buf[:n+Pad], n, nil
		}
		if n == 0 {
			seen = max(r.end-2, 0)
		}
		switch {
		case r.eof && r.end == 0:
			return nil, 0, io.EOF
		case r.eof:
			// What is left has no end, or a backslash before it.
			n := r.end
			for n == r.end || lastEnd(r.buf[:n], n-1) == 0 {
				r.buf[n] = '\n'
				n++
			}
			r.start, r.end = n, n
			return r.buf[:n+Pad], n, nil
		}
		if r.end+2+Pad >= len(r.buf) {
			r.buf = append(r.buf, make([]byte, len(r.buf))...)
		}
		k, err := r.r.Read(r.buf[r.end : len(r.buf)-Pad-2])
		r.end += k
		r.Bytes += int64(k)
		if errors.Is(err, io.EOF) {
			r.eof, seen = true, 0
		} else if err != nil {
			return nil, 0, err
		}
	}
}

// lastEnd returns the place after the last line feed of b that ends a line, 0 when there is none from
// place from on.
func lastEnd(b []byte, from int) int {
	for {
		i := bytes.LastIndexByte(b, '\n')
		if i < from {
			return 0
		}
		text := bytes.TrimSuffix(b[:i], []byte("\r"))
		if !bytes.HasSuffix(text, []byte("\\")) {
			return i + 1
		}
		b = b[:i]
	}
}
