package gltf

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"path"
	"sort"
	"strings"

	doc "github.com/qmuntal/gltf"
)

// decoder holds what is read while one file is decoded.
type decoder struct {
	ctx  context.Context
	name string
	dir  fs.FS // the folder that the file lies in, nil when nothing beside it may be read
	doc  *doc.Document
	bin  []byte

	buffers [][]byte // by buffer index, nil until read
	size    int      // bytes of the file and of all buffers read so far
	numbers int      // numbers read from accessors so far
	files   map[string]besideFile
	notes   []string
	lost    []string
}

func (d *decoder) fault(format string, args ...any) error {
	return &FormatError{Name: d.name, Byte: -1, Text: fmt.Sprintf(format, args...)}
}

func (d *decoder) unsupported(format string, args ...any) error {
	return &UnsupportedError{Name: d.name, What: fmt.Sprintf(format, args...)}
}

// spend counts numbers that are about to be read. Accessors may share bytes, so that their sum is
// bounded apart from their sizes.
func (d *decoder) spend(n int) error {
	d.numbers += n
	if limit := 1<<20 + 8*d.size; d.numbers > limit {
		return d.unsupported("%d numbers and more in accessors, read are %d from %d bytes", d.numbers, limit, d.size)
	}
	return nil
}

func (d *decoder) note(format string, args ...any) {
	d.notes = append(d.notes, fmt.Sprintf(format, args...))
}

// buffer returns the bytes of buffer i, exactly as many as it declares.
func (d *decoder) buffer(i int) ([]byte, error) {
	if i < 0 || i >= len(d.doc.Buffers) {
		return nil, d.fault("buffer %d out of range 0 to %d", i, len(d.doc.Buffers)-1)
	}
	if d.buffers[i] != nil {
		return d.buffers[i], nil
	}
	b := d.doc.Buffers[i]
	if b.ByteLength < 1 {
		return nil, d.fault("buffer %d: length %d, allowed are 1 and more", i, b.ByteLength)
	}
	var data []byte
	var err error
	switch {
	case b.URI == "" && i == 0 && d.bin != nil:
		data = d.bin
	case b.URI == "":
		return nil, d.fault("buffer %d has neither a URI nor a binary chunk", i)
	default:
		data, err = d.resource(fmt.Sprintf("buffer %d", i), b.URI, b.ByteLength)
		d.size += len(data)
	}
	if err != nil {
		return nil, err
	}
	if len(data) < b.ByteLength {
		return nil, d.fault("buffer %d: declares %d bytes, has %d", i, b.ByteLength, len(data))
	}
	d.buffers[i] = data[:b.ByteLength]
	return d.buffers[i], nil
}

// view returns the bytes of buffer view i and its stride, 0 when elements are packed.
func (d *decoder) view(i int) (data []byte, stride int, err error) {
	if i < 0 || i >= len(d.doc.BufferViews) {
		return nil, 0, d.fault("buffer view %d out of range 0 to %d", i, len(d.doc.BufferViews)-1)
	}
	v := d.doc.BufferViews[i]
	for _, e := range packedViews {
		if has(v.Extensions, e) {
			if v.Buffer < 0 || v.Buffer >= len(d.doc.Buffers) || d.doc.Buffers[v.Buffer].URI == "" && (v.Buffer != 0 || d.bin == nil) ||
				has(d.doc.Buffers[v.Buffer].Extensions, e) {
				return nil, 0, d.unsupported("buffer view %d is compressed with %q", i, e)
			}
		}
	}
	b, err := d.buffer(v.Buffer)
	if err != nil {
		return nil, 0, err
	}
	if v.ByteOffset < 0 || v.ByteLength < 1 || v.ByteOffset > len(b) || v.ByteLength > len(b)-v.ByteOffset {
		return nil, 0, d.fault("buffer view %d: %d bytes from byte %d, buffer %d has %d", i, v.ByteLength, v.ByteOffset, v.Buffer, len(b))
	}
	if v.ByteStride < 0 || v.ByteStride > 252 {
		return nil, 0, d.fault("buffer view %d: stride %d, allowed are 4 to 252", i, v.ByteStride)
	}
	return b[v.ByteOffset : v.ByteOffset+v.ByteLength], v.ByteStride, nil
}

// resource reads a data URI or a file beside the document: at most limit bytes when limit > 0.
func (d *decoder) resource(what, uri string, limit int) ([]byte, error) {
	if rest, ok := strings.CutPrefix(uri, "data:"); ok {
		head, body, ok := strings.Cut(rest, ",")
		if !ok {
			return nil, d.fault("%s: data URI has no comma", what)
		}
		if strings.HasSuffix(head, ";base64") {
			data, err := base64.StdEncoding.DecodeString(body)
			if err != nil {
				return nil, d.fault("%s: data URI: %v", what, err)
			}
			return data, nil
		}
		s, err := url.PathUnescape(body)
		if err != nil {
			return nil, d.fault("%s: data URI: %v", what, err)
		}
		return []byte(s), nil
	}
	name, err := d.localName(what, uri)
	if err != nil {
		return nil, err
	}
	return d.file(what, name, limit)
}

// file reads a file of the document's folder: its first bytes up to limit, or all when limit is 0.
// However often a file is asked for, it is read twice at most.
func (d *decoder) file(what, name string, limit int) ([]byte, error) {
	got := d.files[name]
	if got.whole || got.data != nil && limit > 0 && len(got.data) >= limit {
		return got.data, nil
	}
	f, err := d.dir.Open(name)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, &missingError{d.fault("%s: file %q is missing", what, name), name}
		}
		return nil, d.fault("%s: file %q: %v", what, name, cause(err))
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, d.fault("%s: file %q: %v", what, name, cause(err))
	}
	if !info.Mode().IsRegular() {
		return nil, d.fault("%s: %q is not a regular file", what, name)
	}
	if info.Size() < int64(limit) {
		return nil, d.fault("%s: declares %d bytes, file %q has %d", what, limit, name, info.Size())
	}
	var r io.Reader = f
	whole := limit == 0 || got.data != nil
	if !whole {
		r = io.LimitReader(f, int64(limit))
	}
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, d.fault("%s: file %q: %v", what, name, cause(err))
	}
	d.files[name] = besideFile{data, whole}
	return data, nil
}

// missingError says that a file beside the document is not there.
type missingError struct {
	error
	name string
}

func (e *missingError) Unwrap() error { return e.error }

// besideFile holds what was read of a file beside the document.
type besideFile struct {
	data  []byte
	whole bool
}

// localName turns a relative URI into a name inside the document's folder.
func (d *decoder) localName(what, uri string) (string, error) {
	u, err := url.Parse(uri)
	if err != nil || u.Scheme != "" || u.Host != "" {
		return "", d.unsupported("%s: URI %q is not a file beside the document", what, short(uri))
	}
	name := path.Clean(u.Path)
	if u.Path == "" || !fs.ValidPath(name) || name == "." || strings.ContainsRune(name, '\\') {
		return "", d.fault("%s: URI %q leaves the folder of the file", what, short(uri))
	}
	if d.dir == nil {
		return "", d.fault("%s: file %q cannot be read from here", what, name)
	}
	return name, nil
}

// besideNames returns the names of the files read beside the document, sorted.
func (d *decoder) besideNames() []string {
	var out []string
	for n := range d.files {
		out = append(out, n)
	}
	sort.Strings(out)
	return out
}

func short(s string) string {
	if len(s) > 80 {
		return s[:80] + "..."
	}
	return s
}

// cause returns what went wrong without the path that fs errors repeat.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
