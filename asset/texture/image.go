// Package texture decodes texture images under a size guard, converts between sRGB, linear light and
// CIE Lab, and samples images at texture coordinates.
package texture

import (
	"encoding/binary"

	"github.com/zeebo/blake3"

	"mien/asset"
)

// Image is a decoded RGB picture, 8 bits a channel, encoded as the file had it (base colour: sRGB),
// row 0 at the top, 3 bytes a pixel without padding: len(Pix) = 3*W*H.
type Image struct {
	W, H int
	Pix  []uint8
}

// New returns a black image of w by h pixels.
func New(w, h int) *Image { return &Image{W: w, H: h, Pix: make([]uint8, 3*w*h)} }

// At returns the encoded value of pixel (x, y), which must lie inside the image.
func (im *Image) At(x, y int) (r, g, b uint8) {
	p := im.Pix[3*(y*im.W+x):][:3]
	return p[0], p[1], p[2]
}

// Hash returns the BLAKE3-256 digest of width, height (4 bytes each, little endian) and pixels: equal
// pictures have equal hashes whatever file format they came in.
func (im *Image) Hash() asset.Hash {
	h := blake3.New()
	var head [8]byte
	binary.LittleEndian.PutUint32(head[0:], uint32(im.W))
	binary.LittleEndian.PutUint32(head[4:], uint32(im.H))
	h.Write(head[:])
	h.Write(im.Pix)
	var out asset.Hash
	h.Sum(out[:0])
	return out
}
