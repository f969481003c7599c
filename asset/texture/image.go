// Package texture decodes texture images under a size guard, converts between sRGB, linear light and
// CIE Lab, and samples images at texture coordinates.
package texture

// Image is a decoded RGB picture, 8 bits a channel, encoded as the file had it (base colour: sRGB),
// row 0 at the top, 3 bytes a pixel without padding: len(Pix) = 3*W*H.
type Image struct {
	W, H int
	Pix  []uint8
}
