package ply

import (
	"errors"
	"fmt"
	"io"
	"math"

	"mien/asset/decimal"
	"mien/asset/lines"
)

// text reads numbers of lines: a row is a line.
type text struct {
	name  string
	in    *lines.Reader
	block []byte
	i, n  int
	line  int
}

func (t *text) fault(format string, args ...any) error {
	return &FormatError{Name: t.name, Line: t.line, Byte: -1, Text: fmt.Sprintf(format, args...)}
}

func (t *text) read() int64 { return t.in.Bytes }

// row finds the next line that is not blank.
func (t *text) row() error {
	for {
		for t.i < t.n {
			switch t.block[t.i] {
			case '\n':
				t.line++
				t.i++
			case ' ', '\t', '\r':
				t.i++
			default:
				return nil
			}
		}
		var err error
		t.block, t.n, err = t.in.Next()
		t.i = 0
		switch {
		case errors.Is(err, io.EOF):
			t.block, t.n = nil, 0
			return t.fault("the file ends")
		case err != nil:
			return fmt.Errorf("%s: %w", t.name, cause(err))
		}
	}
}

// value finds the next value of the line.
func (t *text) value(what string) error {
	for {
		switch t.block[t.i] {
		case ' ', '\t', '\r':
			t.i++
		case '\n':
			return t.fault("%s is missing", what)
		default:
			return nil
		}
	}
}

// ends checks that the number that was read up to place end is a whole word, and moves there.
func (t *text) ends(end int, what string) error {
	if end <= t.i || t.block[end] > ' ' {
		return t.fault("%s is %q, allowed are finite numbers", what, word(t.block, t.i))
	}
	t.i = end
	return nil
}

func word(b []byte, i int) string {
	end := i
	for end < len(b) && end < i+40 && b[end] > ' ' {
		end++
	}
	return string(b[i:end])
}

func (t *text) float32(k kind, what string) (float32, error) {
	if err := t.value(what); err != nil {
		return 0, err
	}
	v, end := decimal.Float32(t.block, t.i)
	if v-v != 0 {
		return 0, t.fault("%s is %q, beyond the range of numbers", what, word(t.block, t.i))
	}
	return v, t.ends(end, what)
}

func (t *text) float64(k kind, what string) (float64, error) {
	if err := t.value(what); err != nil {
		return 0, err
	}
	v, end := decimal.Float64(t.block, t.i)
	if v-v != 0 {
		return 0, t.fault("%s is %q, beyond the range of numbers", what, word(t.block, t.i))
	}
	return v, t.ends(end, what)
}

func (t *text) integer(k kind, what string) (int64, error) {
	if err := t.value(what); err != nil {
		return 0, err
	}
	if v, end := decimal.Uint(t.block, t.i); end > t.i && t.block[end] <= ' ' {
		t.i = end
		return int64(v), nil
	}
	v, err := t.float64(k, what)
	if err == nil && (v != math.Trunc(v) || math.Abs(v) > math.MaxUint32) {
		err = t.fault("%s is %v, allowed are whole numbers", what, v)
	}
	return int64(v), err
}

func (t *text) skip(k kind, n int64, what string) error {
	for ; n > 0; n-- {
		if err := t.value(what); err != nil {
			return err
		}
		for t.block[t.i] > ' ' {
			t.i++
		}
	}
	return nil
}

func (t *text) endRow(what string) error {
	for {
		switch t.block[t.i] {
		case ' ', '\t', '\r':
			t.i++
		case '\n':
			return nil
		default:
			return t.fault("%s: %q follows the last value of its properties", what, word(t.block, t.i))
		}
	}
}
