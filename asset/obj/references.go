package obj

import (
	"bytes"
	"context"
	"io"
	"io/fs"
	"slices"

	"mien/asset/lines"
)

// References returns the files inside dir that the OBJ text of r refers to: its material libraries, in
// order of mention, and the base colour pictures of all their materials, sorted; each once. A file
// that is not there is left out.
//
// It returns what reading r or a library gives as an error, and ctx's.
func References(ctx context.Context, r io.Reader, dir fs.FS) ([]string, error) {
	p := &parser{material: map[string]int{}}
	in := lines.NewReader(r)
	for {
		block, n, err := in.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		p.findLibraries(block[:n])
	}
	l := &library{ctx: ctx, dir: dir, file: &File{}, picture: map[string]entry{}}
	if err := l.read(p.libraries, nil); err != nil {
		return nil, err
	}
	var pictures []string
	for m := range l.picture {
		if found := l.pictureOf(m); found != "" {
			pictures = append(pictures, found)
		}
	}
	slices.Sort(pictures)
	return append(l.file.Libraries, slices.Compact(pictures)...), nil
}

// findLibraries reads the lines of b that name libraries and no others.
func (p *parser) findLibraries(b []byte) {
	key := []byte("mtllib")
	for i := 0; ; {
		k := bytes.Index(b[i:], key)
		if k < 0 {
			return
		}
		start := i + k
		i = start + len(key)
		before := bytes.TrimRight(b[:start], " \t")
		if len(before) == 0 || before[len(before)-1] == '\n' || bytes.HasSuffix(before, []byte("\xef\xbb\xbf")) {
			// The only error of a statement is one of another keyword.
			if _, err := p.statement(b, start); err != nil {
				return
			}
		}
	}
}
