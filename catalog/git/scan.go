package git

import (
	"bufio"
	"bytes"
	"cmp"
	"crypto/sha1"
	"fmt"
	"io"
	"slices"

	"github.com/go-git/go-git/v5/plumbing/format/idxfile"
	"github.com/go-git/go-git/v5/plumbing/format/packfile"
)

// guard turns a panic of the library on bytes that it did not expect into an error.
func guard(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("malformed: %v", p)
	}
}

// entries reads the whole index, checks it against its sum and against the pack, and returns what it says of
// each object, in order of offset.
func (p *pack) entries() (objects []indexed, err error) {
	defer guard(&err)
	// openPack has seen that the file is as large as the count asks for, so nothing larger is allocated.
	src := bufio.NewReader(io.NewSectionReader(p.index.f, 0, p.index.size))
	var index idxfile.MemoryIndex
	if err := idxfile.NewDecoder(src).Decode(&index); err != nil {
		return nil, fmt.Errorf("index: %w", err)
	}
	if _, err := src.ReadByte(); err != io.EOF {
		return nil, fmt.Errorf("index: does not end after its check sum")
	}
	if sum, err := p.trailer(); err != nil || sum != index.PackfileChecksum {
		return nil, fmt.Errorf("index belongs to another pack")
	}
	all, err := index.Entries()
	if err != nil {
		return nil, err
	}
	objects = make([]indexed, 0, p.count)
	var before Hash
	for i := range p.count {
		e, err := all.Next()
		if err != nil {
			return nil, fmt.Errorf("index: %w", err)
		}
		h := Hash(e.Hash)
		if bytes.Compare(before[:], h[:]) >= 0 && i > 0 || uint32(i) >= p.fan[h[0]] || h[0] > 0 && uint32(i) < p.fan[h[0]-1] {
			return nil, fmt.Errorf("index: object %s is out of order", h.Short())
		}
		if e.Offset < packHead || e.Offset >= uint64(p.body.size) {
			return nil, fmt.Errorf("index: object %s begins at byte %d of %d", h.Short(), e.Offset, p.body.size)
		}
		before = h
		objects = append(objects, indexed{h, int64(e.Offset), e.CRC32})
	}
	slices.SortFunc(objects, func(a, b indexed) int { return cmp.Compare(a.offset, b.offset) })
	return objects, nil
}

// trailer returns the sum with which the pack ends.
func (p *pack) trailer() (sum Hash, err error) {
	_, err = p.body.f.ReadAt(sum[:], p.body.size-sha1.Size)
	return sum, err
}

// checkSum checks all bytes of the pack against the sum with which it ends.
func (p *pack) checkSum() error {
	sum, err := p.trailer()
	if err != nil {
		return fmt.Errorf("file is cut short")
	}
	all := sha1.New()
	if _, err := io.Copy(all, io.NewSectionReader(p.body.f, 0, p.body.size-sha1.Size)); err != nil {
		return err
	}
	if !bytes.Equal(all.Sum(nil), sum[:]) {
		return fmt.Errorf("bytes do not match their check sum")
	}
	return nil
}

// scan reads the objects of a pack one after another, each as it is stored.
type scan struct {
	p       *pack
	lib     *packfile.Scanner
	between bool // the library stands between two objects, or at the first
	content bytes.Buffer
}

func newScan(p *pack) *scan {
	return &scan{p: p, lib: packfile.NewScanner(io.NewSectionReader(p.body.f, 0, p.body.size))}
}

// count returns how many objects the pack says that it holds.
func (s *scan) count() (n int, err error) {
	defer guard(&err)
	_, count, err := s.lib.Header()
	s.between = err == nil
	return int(count), err
}

// object reads one object: its content, or the change that it is to another one. The bytes hold until the
// next call.
func (s *scan) object(o indexed) (t objectType, content []byte, err error) {
	defer guard(&err)
	var hd *packfile.ObjectHeader
	if s.between {
		hd, err = s.lib.NextObjectHeader()
	}
	s.between = false
	if hd == nil || err != nil || hd.Offset != o.offset { // seeking reads the surroundings again
		if hd, err = s.lib.SeekObjectHeader(o.offset); err != nil {
			return 0, nil, err
		}
	}
	if hd.Length > maxObject || hd.Length > (s.p.body.size-o.offset)*deflateRatio {
		return 0, nil, fmt.Errorf("object of %d bytes in a pack of %d", hd.Length, s.p.body.size)
	}
	s.content.Reset()
	n, sum, err := s.lib.NextObject(&s.content)
	if err != nil {
		return 0, nil, err
	}
	if n != hd.Length {
		return 0, nil, fmt.Errorf("object ends after %d bytes of %d", n, hd.Length)
	}
	if sum != o.crc {
		return 0, nil, fmt.Errorf("bytes do not match their check sum")
	}
	s.between = true
	return hd.Type, s.content.Bytes(), nil
}
