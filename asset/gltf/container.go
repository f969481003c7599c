package gltf

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"

	doc "github.com/qmuntal/gltf"
)

const (
	glbMagic  = 0x46546c67 // "glTF"
	chunkJSON = 0x4e4f534a
	chunkBIN  = 0x004e4942

	// maxObjects bounds the objects of the JSON text before it is parsed: each costs a few hundred
	// bytes in memory and three in the file. A scan has some dozens.
	maxObjects = 1 << 17
)

// split separates a file into its JSON text, where that begins, and the binary chunk (nil without one).
func split(name string, data []byte) (text []byte, at int64, bin []byte, err error) {
	fault := func(at int, format string, args ...any) error {
		return &FormatError{Name: name, Byte: int64(at), Text: fmt.Sprintf(format, args...)}
	}
	if len(data) < 4 || binary.LittleEndian.Uint32(data) != glbMagic {
		text = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
		if s := bytes.TrimLeft(text, " \t\r\n"); len(s) == 0 || s[0] != '{' {
			return nil, 0, nil, fault(0, "neither the word %q nor a JSON object, file has %d bytes", "glTF", len(data))
		}
		return text, int64(len(data) - len(text)), nil, nil
	}
	if len(data) < 12 {
		return nil, 0, nil, fault(len(data), "header has 12 bytes, file ends after %d", len(data))
	}
	if v := binary.LittleEndian.Uint32(data[4:]); v != 2 {
		return nil, 0, nil, &UnsupportedError{Name: name, What: fmt.Sprintf("container version %d, read is version 2", v)}
	}
	length := int64(binary.LittleEndian.Uint32(data[8:]))
	if length < 12 {
		return nil, 0, nil, fault(8, "header says %d bytes in all, allowed are 12 and more", length)
	}
	for pos := 12; pos < len(data) && int64(pos) < length; {
		if len(data)-pos < 8 {
			return nil, 0, nil, fault(pos, "chunk header has 8 bytes, file ends after %d", len(data))
		}
		size, kind := int64(binary.LittleEndian.Uint32(data[pos:])), binary.LittleEndian.Uint32(data[pos+4:])
		body := pos + 8
		if size > int64(len(data)-body) {
			return nil, 0, nil, fault(pos, "%s chunk says %d bytes, file ends after %d", chunkName(kind), size, len(data)-body)
		}
		chunk := data[body : body+int(size)]
		switch {
		case text == nil && kind != chunkJSON:
			return nil, 0, nil, fault(pos, "first chunk is %s, allowed is JSON", chunkName(kind))
		case text == nil:
			text, at = chunk, int64(body)
		case kind == chunkBIN && bin == nil:
			bin = chunk
		}
		pos = body + int(size)
	}
	if length > int64(len(data)) {
		return nil, 0, nil, fault(8, "header says %d bytes in all, file ends after %d", length, len(data))
	}
	if text == nil {
		return nil, 0, nil, fault(12, "JSON chunk is missing")
	}
	return text, at, bin, nil
}

func chunkName(kind uint32) string {
	switch kind {
	case chunkJSON:
		return "JSON"
	case chunkBIN:
		return "BIN"
	}
	return fmt.Sprintf("%#08x", kind)
}

// parse reads the JSON text, which begins at byte at of the file.
func parse(name string, text []byte, at int64) (*doc.Document, error) {
	if n := countObjects(text); n > maxObjects {
		return nil, &UnsupportedError{Name: name, What: fmt.Sprintf("JSON of %d objects, read are up to %d", n, maxObjects)}
	}
	d := new(doc.Document)
	if err := json.Unmarshal(text, d); err != nil {
		f := &FormatError{Name: name, Byte: -1, Text: "JSON: " + err.Error()}
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			f.Byte = at + max(syntax.Offset-1, 0)
		}
		return nil, f
	}
	return d, checkDocument(name, d)
}

// countObjects returns the number of opening braces outside strings.
func countObjects(text []byte) (n int) {
	inString := false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case inString && c == '\\':
			i++
		case c == '"':
			inString = !inString
		case c == '{' && !inString:
			n++
		}
	}
	return n
}

// checkDocument refuses a document that later steps could not walk: null entries, another version,
// a required extension that is not read.
func checkDocument(name string, d *doc.Document) error {
	if d.Asset.Version != "2.0" && (len(d.Asset.Version) < 2 || d.Asset.Version[:2] != "2.") {
		return &UnsupportedError{Name: name, What: fmt.Sprintf("glTF version %q, read is 2.0", d.Asset.Version)}
	}
	if d.Asset.MinVersion != "" && d.Asset.MinVersion != "2.0" {
		return &UnsupportedError{Name: name, What: fmt.Sprintf("glTF version %q at least, read is 2.0", d.Asset.MinVersion)}
	}
	for _, e := range d.ExtensionsRequired {
		if !readable(e) {
			return &UnsupportedError{Name: name, What: fmt.Sprintf("required extension %q", e)}
		}
	}
	null := ""
	note := func(list string, i int, isNil bool) {
		if isNil && null == "" {
			null = fmt.Sprintf("%s %d is null", list, i)
		}
	}
	for i, v := range d.Accessors {
		note("accessor", i, v == nil)
	}
	for i, v := range d.Buffers {
		note("buffer", i, v == nil)
	}
	for i, v := range d.BufferViews {
		note("buffer view", i, v == nil)
	}
	for i, v := range d.Images {
		note("image", i, v == nil)
	}
	for i, v := range d.Materials {
		note("material", i, v == nil)
	}
	for i, v := range d.Meshes {
		note("mesh", i, v == nil)
		if v != nil {
			for _, p := range v.Primitives {
				note("primitive of mesh", i, p == nil)
			}
		}
	}
	for i, v := range d.Nodes {
		note("node", i, v == nil)
	}
	for i, v := range d.Scenes {
		note("scene", i, v == nil)
	}
	for i, v := range d.Textures {
		note("texture", i, v == nil)
	}
	if null != "" {
		return &FormatError{Name: name, Byte: -1, Text: null}
	}
	return nil
}
