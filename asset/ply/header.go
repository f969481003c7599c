package ply

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// maxHeader bounds the header's bytes. One of a scan has some hundreds.
const maxHeader = 1 << 20

// kind is the type of a number.
type kind uint8

const (
	noKind kind = iota
	int8Kind
	uint8Kind
	int16Kind
	uint16Kind
	int32Kind
	uint32Kind
	float32Kind
	float64Kind
)

var kinds = map[string]kind{
	"char": int8Kind, "uchar": uint8Kind, "short": int16Kind, "ushort": uint16Kind, "int": int32Kind, "uint": uint32Kind,
	"float": float32Kind, "double": float64Kind,
	"int8": int8Kind, "uint8": uint8Kind, "int16": int16Kind, "uint16": uint16Kind, "int32": int32Kind, "uint32": uint32Kind,
	"float32": float32Kind, "float64": float64Kind,
}

var kindBytes = [...]int{int8Kind: 1, uint8Kind: 1, int16Kind: 2, uint16Kind: 2, int32Kind: 4, uint32Kind: 4, float32Kind: 4, float64Kind: 8}

// property is one number of an element, or a list of them when count is a kind.
type property struct {
	name  string
	kind  kind
	count kind
}

func (p property) isList() bool { return p.count != noKind }

// element is a kind of row with the count of its rows.
type element struct {
	name       string
	count      int64
	properties []property
}

// header is what stands before the data.
type header struct {
	text     bool
	big      bool // byte order of binary data
	elements []element
	textures []string // names in comments
	lines    int
	bytes    int64
}

// readHeader reads up to the line "end_header".
func readHeader(name string, r *bufio.Reader) (*header, error) {
	h := &header{}
	fault := func(format string, args ...any) (*header, error) {
		return nil, &FormatError{Name: name, Line: max(h.lines, 1), Text: fmt.Sprintf(format, args...)}
	}
	format := ""
	for {
		line, err := r.ReadSlice('\n')
		h.bytes += int64(len(line))
		h.lines++
		if h.lines == 1 && strings.TrimRight(string(line), " \t\r\n") != "ply" {
			return fault("does not begin with the word %q", "ply")
		}
		switch {
		case errors.Is(err, io.EOF):
			return fault("the header does not end, the file has %d bytes", h.bytes)
		case errors.Is(err, bufio.ErrBufferFull) || h.bytes > maxHeader:
			return nil, &UnsupportedError{name, fmt.Sprintf("header of more than %d bytes or with lines of more than %d", maxHeader, r.Size())}
		case err != nil:
			return nil, fmt.Errorf("%s: %w", name, cause(err))
		}
		words := strings.Fields(string(line))
		if len(words) == 0 {
			continue
		}
		switch words[0] {
		case "ply", "obj_info":
			continue
		case "comment":
			rest := strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(string(line)), "comment"))
			if len(words) > 2 && strings.EqualFold(words[1], "TextureFile") {
				h.textures = append(h.textures, strings.TrimSpace(rest[len("TextureFile"):]))
			}
			continue
		case "end_header":
			if format == "" {
				return fault("no line %q before the end of the header", "format")
			}
			return h, nil
		case "format":
			if format != "" || len(words) != 3 {
				return fault("format: %q, allowed is one line of a format and 1.0", strings.Join(words[1:], " "))
			}
			format = words[1]
			h.text, h.big = format == "ascii", format == "binary_big_endian"
			if !h.text && !h.big && format != "binary_little_endian" {
				return fault("format %q, allowed are ascii, binary_little_endian and binary_big_endian", format)
			}
			if words[2] != "1.0" {
				return nil, &UnsupportedError{name, fmt.Sprintf("format version %q, read is 1.0", words[2])}
			}
		case "element":
			if text := h.element(words[1:]); text != "" {
				return fault("%s", text)
			}
		case "property":
			if text := h.property(words[1:]); text != "" {
				return fault("%s", text)
			}
		default:
			return fault("header line begins with %q, allowed are format, element, property, comment, obj_info and end_header", short(words[0]))
		}
	}
}

// element reads the words of an element line; it returns what is wrong with them.
func (h *header) element(words []string) string {
	if len(words) != 2 {
		return fmt.Sprintf("element: %d words, allowed are a name and a count", len(words))
	}
	n, err := strconv.ParseInt(words[1], 10, 64)
	if err != nil || n < 0 {
		return fmt.Sprintf("element %q: count %q, allowed are whole numbers from 0", short(words[0]), short(words[1]))
	}
	for _, e := range h.elements {
		if e.name == words[0] {
			return fmt.Sprintf("element %q stands twice", short(e.name))
		}
	}
	h.elements = append(h.elements, element{name: words[0], count: n})
	return ""
}

// property reads the words of a property line; it returns what is wrong with them.
func (h *header) property(words []string) string {
	if len(h.elements) == 0 {
		return "property before any element"
	}
	e := &h.elements[len(h.elements)-1]
	p := property{}
	if len(words) == 4 && words[0] == "list" {
		if p.count = kinds[words[1]]; p.count == noKind || p.count >= float32Kind {
			return fmt.Sprintf("property %q: count of type %q, allowed are types of whole numbers", short(words[3]), short(words[1]))
		}
		words = words[2:]
	}
	if len(words) != 2 {
		return "property: allowed are a type and a name, or the word list, two types and a name"
	}
	p.kind, p.name = kinds[words[0]], words[1]
	if p.kind == noKind {
		return fmt.Sprintf("property %q: type %q is unknown", short(p.name), short(words[0]))
	}
	for _, q := range e.properties {
		if q.name == p.name {
			return fmt.Sprintf("property %q of element %q stands twice", short(p.name), short(e.name))
		}
	}
	e.properties = append(e.properties, p)
	return ""
}

// find returns the place of the first property with one of the given names, -1 without one.
func (e *element) find(names ...string) int {
	for i, p := range e.properties {
		for _, n := range names {
			if p.name == n {
				return i
			}
		}
	}
	return -1
}

func short(s string) string {
	if len(s) > 40 {
		return s[:40] + "..."
	}
	return s
}
