package obj

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"

	"mien/asset/decimal"
	"mien/asset/soup"
)

// parser walks blocks of whole lines. Methods that read take a block and a place in it and return the
// place after what they read; a block's line feeds stop every one of them.
type parser struct {
	name string
	line int
	soup soup.Soup

	color [][3]float32 // of each position, nil until one has a colour
	p, uv []uint32     // corners of the face being read
	ahead [2]ahead     // positions, texture coordinates

	materials []string
	material  map[string]int // number by name
	libraries []string

	left    int // points, lines and curves
	rounded int // rational weights
	unknown unknown
}

// ahead is the greatest index of a face beyond what the file had defined by then.
type ahead struct {
	index uint64 // from 1
	line  int
}

// unknown counts lines with a keyword of no meaning here.
type unknown struct {
	count, line int
	word        string
}

func (p *parser) fault(line int, format string, args ...any) error {
	return &FormatError{p.name, line, fmt.Sprintf(format, args...)}
}

// block reads the lines of b[i:n].
func (p *parser) block(b []byte, i, n int) (err error) {
	for i < n {
		switch c := b[i]; {
		case c == '\n':
			i++
			p.line++
			continue
		case c == ' ' || c == '\t' || c == '\r' || c == '\\' && b[i+1] <= '\r':
			if j := p.space(b, i); j > i {
				i = j
				continue
			}
			i, err = p.statement(b, i)
		case c == 'f' && isSpace(b[i+1]):
			i, err = p.face(b, i+1)
		case c == 'v' && isSpace(b[i+1]):
			i, err = p.vertex(b, i+1)
		case c == 'v' && b[i+1] == 't' && isSpace(b[i+2]):
			i, err = p.coordinate(b, i+2)
		case c == 'v' && b[i+1] == 'n' && isSpace(b[i+2]):
			i = p.skip(b, i)
			continue
		case c == '#':
			i += bytes.IndexByte(b[i:], '\n')
			continue
		default:
			i, err = p.statement(b, i)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' }

// space reads white space, to which a joined line's backslash and line feed belong.
func (p *parser) space(b []byte, i int) int {
	for {
		switch c := b[i]; {
		case c == ' ' || c == '\t' || c == '\r':
			i++
		case c == '\\' && b[i+1] == '\n':
			i += 2
			p.line++
		case c == '\\' && b[i+1] == '\r' && b[i+2] == '\n':
			i += 3
			p.line++
		default:
			return i
		}
	}
}

// skip returns the place of the line feed that ends the line, joined lines included.
func (p *parser) skip(b []byte, i int) int {
	for {
		i += bytes.IndexByte(b[i:], '\n')
		if b[i-1] != '\\' && (b[i-1] != '\r' || b[i-2] != '\\') {
			return i
		}
		i++
		p.line++
	}
}

// end reads the rest of a line, where only a comment may stand. what is the statement read.
func (p *parser) end(b []byte, i int, what string) (int, error) {
	if b[i] == '\n' {
		return i, nil
	}
	i = p.space(b, i)
	switch b[i] {
	case '\n':
	case '#':
		i += bytes.IndexByte(b[i:], '\n')
	default:
		return i, p.fault(p.line, "%s: %q is no number", what, word(b, i))
	}
	return i, nil
}

// word returns the text from place i to the next white space, for messages.
func word(b []byte, i int) string {
	end := i
	for end < len(b) && end < i+40 && b[end] > ' ' {
		end++
	}
	return string(b[i:end])
}

var vertexParts = [3]string{"x", "y", "z"}

// vertex reads a position: x y z, then a weight, a colour, or both.
func (p *parser) vertex(b []byte, i int) (int, error) {
	var v [7]float32
	n := 0
	for ; n < len(v); n++ {
		i = p.space(b, i)
		x, end := decimal.Float32(b, i)
		if end == i {
			break
		}
		if x-x != 0 {
			return i, p.fault(p.line, "v: %q is beyond the range of numbers", word(b, i))
		}
		v[n], i = x, end
	}
	if n < 3 {
		if b[i] != '\n' && b[i] != '#' {
			return i, p.fault(p.line, "v: %s is %q, allowed are finite numbers", vertexParts[n], word(b, i))
		}
		return i, p.fault(p.line, "v: %d numbers, allowed are 3 and more", n)
	}
	if len(p.soup.Pos) >= math.MaxUint32-1 {
		return i, &UnsupportedError{p.name, fmt.Sprintf("more than %d vertices", len(p.soup.Pos))}
	}
	p.soup.Pos = append(soup.Room(p.soup.Pos), [3]float32{v[0], v[1], v[2]})
	switch {
	case n >= 6:
		p.paint([3]float32(v[3:6]))
	case n >= 4 && v[3] != 1:
		p.rounded++
		fallthrough
	default:
		if p.color != nil {
			p.color = append(soup.Room(p.color), noColor)
		}
	}
	return p.end(b, i, "v")
}

// coordinate reads a texture coordinate: u, v where given, and a depth that is read over.
func (p *parser) coordinate(b []byte, i int) (int, error) {
	var v [3]float64
	n := 0
	for ; n < len(v); n++ {
		i = p.space(b, i)
		x, end := decimal.Float64(b, i)
		if end == i {
			break
		}
		v[n], i = x, end
	}
	if n == 0 {
		return i, p.fault(p.line, "vt: u is %q, allowed are finite numbers", word(b, i))
	}
	c := [2]float32{float32(v[0]), float32(1 - v[1])}
	if c[0]-c[0] != 0 || c[1]-c[1] != 0 {
		return i, p.fault(p.line, "vt: beyond the range of numbers")
	}
	if len(p.soup.UV) >= math.MaxUint32-2 {
		return i, &UnsupportedError{p.name, fmt.Sprintf("more than %d texture coordinates", len(p.soup.UV))}
	}
	p.soup.UV = append(soup.RoomOf(p.soup.UV, int64(len(p.soup.Pos)/8*9)), c)
	return p.end(b, i, "vt")
}

// face reads the corners of a polygon, each v, v/vt, v//vn or v/vt/vn.
func (p *parser) face(b []byte, i int) (int, error) {
	p.p, p.uv = p.p[:0], p.uv[:0]
	bare := false
	for {
		if c := b[i+1]; b[i] == ' ' && c-'0' <= 9 {
			i++
		} else if i = p.space(b, i); b[i] == '\n' || b[i] == '#' {
			break
		}
		start := i
		v, i2, err := p.index(b, i, len(p.soup.Pos), 0)
		if err != nil {
			return i, err
		}
		i = i2
		t := uint32(soup.NoUV)
		if b[i] == '/' {
			first := b[start:i]
			if j := repeats(b, first, i+1); j > 0 && int(v) < len(p.soup.UV) {
				t, i = v, j
			} else if b[i+1] != '/' {
				if t, i, err = p.index(b, i+1, len(p.soup.UV), 1); err != nil {
					return i, err
				}
			} else {
				i++
			}
			if b[i] == '/' {
				if j := repeats(b, first, i+1); j > 0 {
					i = j
				} else if i = p.normalIndex(b, i+1); i < 0 {
					return i, p.fault(p.line, "f: corner %q, allowed are v, v/vt, v//vn and v/vt/vn", word(b, start))
				}
			}
		}
		if b[i] > ' ' && b[i] != '\\' && b[i] != '#' {
			return i, p.fault(p.line, "f: corner %q, allowed are v, v/vt, v//vn and v/vt/vn", word(b, start))
		}
		bare = bare || t == soup.NoUV
		p.p, p.uv = append(p.p, v), append(p.uv, t)
	}
	if len(p.p) < 3 {
		return i, p.fault(p.line, "f: %d corners, allowed are 3 and more", len(p.p))
	}
	if bare {
		for k := range p.uv {
			p.uv[k] = soup.NoUV
		}
	}
	if len(p.p) == 3 {
		p.soup.Triangle([3]uint32(p.p), [3]uint32(p.uv))
	} else {
		p.soup.Polygon(p.p, p.uv)
	}
	return p.end(b, i, "f")
}

// repeats returns the place behind the index at place i when it is written as the corner's first one
// was, as most files have it, and else 0. Only plain numbers that are no longer than a word are
// compared.
func repeats(b, first []byte, i int) int {
	n := len(first)
	if n > 8 || first[0] == '-' {
		return 0
	}
	first = first[:8]
	if (binary.LittleEndian.Uint64(first)^binary.LittleEndian.Uint64(b[i:]))<<uint(64-8*n) != 0 {
		return 0
	}
	if c := b[i+n]; c == '/' || c <= ' ' {
		return i + n
	}
	return 0
}

var indexed = [2]string{"face", "texture coordinate"}

// index reads an index of kind 0 (position) or 1 (texture coordinate), of which count are defined so
// far, and returns it counted from 0. One beyond count may be defined later.
func (p *parser) index(b []byte, i, count, kind int) (uint32, int, error) {
	v, end := decimal.Uint(b, i)
	if end > i && v-1 < uint64(count) {
		return uint32(v - 1), end, nil
	}
	switch {
	case b[i] == '-':
		back, end := decimal.Uint(b, i+1)
		if end == i+1 {
			break
		}
		if end < 0 || back == 0 || back > uint64(count) {
			return 0, i, p.fault(p.line, "%s index %s out of range -1 to -%d", indexed[kind], number(b, i), count)
		}
		return uint32(uint64(count) - back), end, nil
	case end < 0 || end > i && (v == 0 || v > math.MaxUint32-2):
		return 0, i, p.fault(p.line, "%s index %s out of range 1 to %d", indexed[kind], number(b, i), count)
	case end > i:
		if v > p.ahead[kind].index {
			p.ahead[kind] = ahead{v, p.line}
		}
		return uint32(v - 1), end, nil
	}
	return 0, i, p.fault(p.line, "f: %q is no index", word(b, i))
}

// number returns the number at place i as written.
func number(b []byte, i int) string {
	w := word(b, i)
	if end := strings.IndexAny(w, "/\\"); end >= 0 {
		w = w[:end]
	}
	return w
}

// normalIndex reads the index of a normal, which is not used, or returns -1.
func (p *parser) normalIndex(b []byte, i int) int {
	if b[i] == '-' {
		i++
	}
	if _, end := decimal.Uint(b, i); end > i {
		return end
	}
	return -1
}

// checkAhead checks the indices that lay beyond what was defined when they were read.
func (p *parser) checkAhead() error {
	for kind, count := range [2]int{len(p.soup.Pos), len(p.soup.UV)} {
		if a := p.ahead[kind]; a.index > uint64(count) {
			return p.fault(a.line, "%s index %d out of range 1 to %d", indexed[kind], a.index, count)
		}
	}
	return nil
}
