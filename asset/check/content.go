package check

import (
	"encoding/binary"
	"math"

	"github.com/zeebo/blake3"

	"mien/asset"
	"mien/asset/scan"
)

func contentHash(s *scan.Scan) asset.Hash {
	h := blake3.New()
	buf := make([]byte, 0, 1<<16)
	flush := func() {
		h.Write(buf)
		buf = buf[:0]
	}
	put := func(v uint32) {
		if len(buf) > 1<<16-8 {
			flush()
		}
		buf = binary.LittleEndian.AppendUint32(buf, v)
	}
	put(uint32(len(s.Mesh.Pos)))
	for _, p := range s.Mesh.Pos {
		for _, c := range p {
			put(math.Float32bits(c))
		}
	}
	put(uint32(len(s.Mesh.Tri)))
	for _, t := range s.Mesh.Tri {
		for _, i := range t {
			put(i)
		}
	}
	put(uint32(len(s.Mesh.TriUV)))
	for _, t := range s.Mesh.TriUV {
		for _, i := range t {
			put(math.Float32bits(s.Mesh.UV[i][0]))
			put(math.Float32bits(s.Mesh.UV[i][1]))
		}
	}
	flush()
	for _, img := range s.BaseColor {
		if img == nil {
			put(0)
			flush()
			continue
		}
		put(uint32(img.W))
		put(uint32(img.H))
		flush()
		h.Write(img.Pix)
	}
	var out asset.Hash
	h.Sum(out[:0])
	return out
}
