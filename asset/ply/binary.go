package ply

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// binaryData reads numbers of a fixed width.
type binaryData struct {
	name string
	r    io.Reader
	big  bool
	buf  []byte
	i, n int
	base int64 // of buf's first byte in the file
	eof  bool
}

const binaryBuffer = 256 << 10

func (d *binaryData) fault(format string, args ...any) error {
	return &FormatError{Name: d.name, Byte: d.base + int64(d.i), Text: fmt.Sprintf(format, args...)}
}

func (d *binaryData) read() int64               { return d.base + int64(d.n) }
func (d *binaryData) row() error                { return nil }
func (d *binaryData) endRow(_ string) error     { return nil }
func (d *binaryData) enough(n int) (yes bool)   { return d.n-d.i >= n }
func (d *binaryData) take(n int) (bytes []byte) { d.i += n; return d.buf[d.i-n : d.i] }

// want reads until n bytes are there, n not above the buffer's size.
func (d *binaryData) want(n int, what string) error {
	if d.enough(n) {
		return nil
	}
	d.base += int64(d.i)
	d.n = copy(d.buf, d.buf[d.i:d.n])
	d.i = 0
	for !d.eof && d.n < n {
		k, err := d.r.Read(d.buf[d.n:])
		d.n += k
		if errors.Is(err, io.EOF) {
			d.eof = true
		} else if err != nil {
			return fmt.Errorf("%s: %w", d.name, cause(err))
		}
	}
	if !d.enough(n) {
		return d.fault("%s: the file ends after %d of %d bytes", what, d.n, n)
	}
	return nil
}

func (d *binaryData) float32(k kind, what string) (float32, error) {
	v, err := d.float64(k, what)
	if f := float32(v); f-f == 0 || err != nil {
		return f, err
	}
	d.i -= kindBytes[k]
	return 0, d.fault("%s is %v, beyond the range of numbers", what, v)
}

func (d *binaryData) float64(k kind, what string) (float64, error) {
	if err := d.want(kindBytes[k], what); err != nil {
		return 0, err
	}
	v := number(d.take(kindBytes[k]), k, d.big)
	if v-v != 0 {
		d.i -= kindBytes[k]
		return 0, d.fault("%s is %v, allowed are finite numbers", what, v)
	}
	return v, nil
}

func (d *binaryData) integer(k kind, what string) (int64, error) {
	v, err := d.float64(k, what)
	if err == nil && (v != math.Trunc(v) || math.Abs(v) > math.MaxUint32) {
		err = d.fault("%s is %v, allowed are whole numbers", what, v)
	}
	return int64(v), err
}

func (d *binaryData) skip(k kind, n int64, what string) error {
	left := n * int64(kindBytes[k])
	for left > 0 {
		if err := d.want(int(min(left, binaryBuffer)), what); err != nil {
			return err
		}
		step := min(left, int64(d.n-d.i))
		d.i += int(step)
		left -= step
	}
	return nil
}

// number returns the number of the given kind that b begins with.
func number(b []byte, k kind, big bool) float64 {
	switch k {
	case int8Kind:
		return float64(int8(b[0]))
	case uint8Kind:
		return float64(b[0])
	case int16Kind:
		return float64(int16(word16(b, big)))
	case uint16Kind:
		return float64(word16(b, big))
	case int32Kind:
		return float64(int32(word32(b, big)))
	case uint32Kind:
		return float64(word32(b, big))
	case float32Kind:
		return float64(math.Float32frombits(word32(b, big)))
	}
	if big {
		return math.Float64frombits(binary.BigEndian.Uint64(b))
	}
	return math.Float64frombits(binary.LittleEndian.Uint64(b))
}

func word16(b []byte, big bool) uint16 {
	if big {
		return binary.BigEndian.Uint16(b)
	}
	return binary.LittleEndian.Uint16(b)
}

func word32(b []byte, big bool) uint32 {
	if big {
		return binary.BigEndian.Uint32(b)
	}
	return binary.LittleEndian.Uint32(b)
}
