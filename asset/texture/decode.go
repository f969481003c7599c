package texture

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"mien/asset"
)

// Limits guard against files that claim absurd sizes. The zero value of a field means its default.
type Limits struct {
	MaxSide   int   // pixels; default 32768
	MaxPixels int64 // default 16384 x 16384
	MaxBytes  int64 // of the file; default 1 GiB
}

func (l Limits) filled() Limits {
	if l.MaxSide == 0 {
		l.MaxSide = 32768
	}
	if l.MaxPixels == 0 {
		l.MaxPixels = 16384 * 16384
	}
	if l.MaxBytes == 0 {
		l.MaxBytes = 1 << 30
	}
	return l
}

// Info says what the file held and what decoding did to it.
type Info struct {
	Format  string // png, jpeg
	Bits    int    // a channel, in the file: 8 or 16; indexed and 1, 2, 4-bit pictures count as 8
	Grey    bool   // one channel in the file, repeated in the image
	Alpha   bool   // the file has transparent pixels; the image holds the colour without it
	CMYK    bool   // four ink channels, converted without a profile
	Profile asset.Hash
	Notes   []string // what was lost or assumed, for people
}

// UnsupportedError says that a file is sound but of a kind that is not read.
type UnsupportedError struct {
	Name, What string
}

func (e *UnsupportedError) Error() string {
	return fmt.Sprintf("%s: unsupported: %s, allowed are png and jpeg", e.Name, e.What)
}

// Decode reads a PNG or JPEG picture. 16-bit channels are rounded to 8, grey is repeated, alpha is
// dropped without touching the colour, CMYK is converted; info says so. The picture's size is checked
// before any pixel is allocated: against the limits, and against what the file's bytes can hold, so
// memory is bounded by the file's size.
//
// Errors name the file, what it holds and what is allowed; a file that ends early wraps
// [io.ErrUnexpectedEOF]; a format that is not read is an [*UnsupportedError].
func Decode(r io.Reader, name string, limits Limits) (*Image, Info, error) {
	limits = limits.filled()
	b, err := io.ReadAll(io.LimitReader(r, limits.MaxBytes+1))
	if err != nil {
		return nil, Info{}, fmt.Errorf("%s: %w", name, err)
	}
	if int64(len(b)) > limits.MaxBytes {
		return nil, Info{}, fmt.Errorf("%s: more than %d bytes, allowed %d", name, limits.MaxBytes, limits.MaxBytes)
	}
	return DecodeBytes(b, name, limits)
}

// DecodeBytes is [Decode] for a file in memory.
func DecodeBytes(b []byte, name string, limits Limits) (*Image, Info, error) {
	limits = limits.filled()
	var info Info
	info.Format = sniff(b)
	var config image.Config
	var err error
	switch info.Format {
	case "png":
		config, err = png.DecodeConfig(bytes.NewReader(b))
	case "jpeg":
		config, err = jpeg.DecodeConfig(bytes.NewReader(b))
	case "":
		return nil, info, fmt.Errorf("%s: not a picture: first bytes %x, allowed are png and jpeg", name, b[:min(8, len(b))])
	default:
		return nil, info, &UnsupportedError{name, info.Format}
	}
	if err != nil {
		return nil, info, decodeError(name, b, err)
	}
	if err := checkSize(name, info.Format, config.Width, config.Height, len(b), limits); err != nil {
		return nil, info, err
	}

	var src image.Image
	if info.Format == "png" {
		src, err = png.Decode(bytes.NewReader(b))
		info.Profile = pngProfile(b)
	} else {
		src, err = jpeg.Decode(bytes.NewReader(b))
		info.Profile = jpegProfile(b)
	}
	if err != nil {
		return nil, info, decodeError(name, b, err)
	}
	im := fromImage(src, &info)
	if !info.Profile.IsZero() {
		info.Notes = append(info.Notes, "colour profile "+info.Profile.Short()+" not applied, values taken as sRGB")
	}
	return im, info, nil
}

// sniff names the format by its first bytes, "" when they are no picture's.
func sniff(b []byte) string {
	for _, m := range [...]struct{ magic, format string }{
		{"\x89PNG\r\n\x1a\n", "png"}, {"\xff\xd8\xff", "jpeg"}, {"II*\x00", "tiff"}, {"MM\x00*", "tiff"},
		{"II+\x00", "big tiff"}, {"MM\x00+", "big tiff"}, {"GIF8", "gif"}, {"BM", "bmp"},
		{"\x76\x2f\x31\x01", "openexr"}, {"#?RADIANCE", "radiance hdr"}, {"\xabKTX 20\xbb", "ktx2"},
	} {
		if bytes.HasPrefix(b, []byte(m.magic)) {
			return m.format
		}
	}
	if len(b) >= 12 && string(b[:4]) == "RIFF" && string(b[8:12]) == "WEBP" {
		return "webp"
	}
	return ""
}

// A deflate stream unpacks to at most 1032 bytes a byte (RFC 1951: 258 bytes for 2 bits); a JPEG spends
// at least one bit on the mean of each block of 64 pixels.
const (
	deflateMost = 1032
	jpegMost    = 8 * 64
)

func checkSize(name, format string, w, h, fileBytes int, l Limits) error {
	switch px := int64(w) * int64(h); {
	case w <= 0 || h <= 0:
		return fmt.Errorf("%s: %d x %d pixels, allowed from 1 x 1", name, w, h)
	case w > l.MaxSide || h > l.MaxSide:
		return fmt.Errorf("%s: %d x %d pixels, allowed %d on a side", name, w, h, l.MaxSide)
	case px > l.MaxPixels:
		return fmt.Errorf("%s: %d x %d pixels are %d, allowed %d", name, w, h, px, l.MaxPixels)
	case format == "png" && px/8 > deflateMost*int64(fileBytes), format == "jpeg" && px > jpegMost*int64(fileBytes):
		return fmt.Errorf("%s: says %d x %d pixels, its %d bytes cannot hold them", name, w, h, fileBytes)
	}
	return nil
}

func decodeError(name string, b []byte, err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) || !ended(b) {
		return fmt.Errorf("%s: truncated: picture data ends after %d bytes: %w", name, len(b), io.ErrUnexpectedEOF)
	}
	var pngUnsupported png.UnsupportedError
	var jpegUnsupported jpeg.UnsupportedError
	switch {
	case errors.As(err, &pngUnsupported):
		return &UnsupportedError{name, string(pngUnsupported)}
	case errors.As(err, &jpegUnsupported):
		return &UnsupportedError{name, string(jpegUnsupported)}
	}
	return fmt.Errorf("%s: %w", name, err)
}

// ended reports whether the file has the closing mark of its format: the decoders blame the
// compressed data for some files that were only cut short.
func ended(b []byte) bool {
	tail := b[max(0, len(b)-4096):]
	if sniff(b) == "png" {
		return bytes.Contains(tail, []byte("IEND"))
	}
	return bytes.Contains(tail, []byte{0xff, 0xd9})
}
