package texture

import (
	"image"
	"image/jpeg"
	"image/png"
	"io"
)

// EncodePNG writes the image as an 8-bit RGB PNG. Same pixels, same bytes.
func EncodePNG(w io.Writer, im *Image) error {
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	return e.Encode(w, im.RGBA())
}

// EncodeJPEG writes the image as a baseline JPEG with 4:2:0 colour at quality 1 to 100. Same pixels
// and quality, same bytes.
func EncodeJPEG(w io.Writer, im *Image, quality int) error {
	return jpeg.Encode(w, im.RGBA(), &jpeg.Options{Quality: quality})
}

// RGBA returns an opaque copy for the standard image packages.
func (im *Image) RGBA() *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, im.W, im.H))
	for i, j := 0, 0; i+2 < len(im.Pix); i, j = i+3, j+4 {
		p := out.Pix[j : j+4 : j+4]
		p[0], p[1], p[2], p[3] = im.Pix[i], im.Pix[i+1], im.Pix[i+2], 255
	}
	return out
}
