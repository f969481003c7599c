package texture

import (
	"image"
	"image/color"
)

// fromImage copies what the standard decoders give into 8-bit RGB and notes in info what it met.
func fromImage(src image.Image, info *Info) *Image {
	b := src.Bounds()
	out := New(b.Dx(), b.Dy())
	info.Bits = 8
	switch s := src.(type) {
	case *image.Gray:
		info.Grey = true
		out.eachRow(func(y int, row []uint8) {
			for x, v := range s.Pix[y*s.Stride:][:out.W] {
				row[3*x], row[3*x+1], row[3*x+2] = v, v, v
			}
		})
	case *image.Gray16:
		info.Grey, info.Bits = true, 16
		out.eachRow(func(y int, row []uint8) {
			in := s.Pix[y*s.Stride:]
			for x := 0; x < out.W; x++ {
				v := to8(in[2*x], in[2*x+1])
				row[3*x], row[3*x+1], row[3*x+2] = v, v, v
			}
		})
	case *image.RGBA:
		out.eachRow(func(y int, row []uint8) { copyRGB(row, s.Pix[y*s.Stride:], out.W, info) })
	case *image.NRGBA:
		out.eachRow(func(y int, row []uint8) { copyRGB(row, s.Pix[y*s.Stride:], out.W, info) })
	case *image.RGBA64:
		info.Bits = 16
		out.eachRow(func(y int, row []uint8) { reduceRGB(row, s.Pix[y*s.Stride:], out.W, info) })
	case *image.NRGBA64:
		info.Bits = 16
		out.eachRow(func(y int, row []uint8) { reduceRGB(row, s.Pix[y*s.Stride:], out.W, info) })
	case *image.YCbCr:
		out.eachRow(func(y int, row []uint8) {
			for x := 0; x < out.W; x++ {
				i, j := s.YOffset(x+b.Min.X, y+b.Min.Y), s.COffset(x+b.Min.X, y+b.Min.Y)
				row[3*x], row[3*x+1], row[3*x+2] = color.YCbCrToRGB(s.Y[i], s.Cb[j], s.Cr[j])
			}
		})
	case *image.CMYK:
		info.CMYK = true
		out.eachRow(func(y int, row []uint8) {
			in := s.Pix[y*s.Stride:]
			for x := 0; x < out.W; x++ {
				row[3*x], row[3*x+1], row[3*x+2] = color.CMYKToRGB(in[4*x], in[4*x+1], in[4*x+2], in[4*x+3])
			}
		})
	default: // indexed pictures
		out.eachRow(func(y int, row []uint8) {
			for x := 0; x < out.W; x++ {
				c := color.NRGBAModel.Convert(src.At(x+b.Min.X, y+b.Min.Y)).(color.NRGBA)
				row[3*x], row[3*x+1], row[3*x+2] = c.R, c.G, c.B
				info.Alpha = info.Alpha || c.A != 255
			}
		})
	}
	for _, n := range [...]struct {
		holds bool
		note  string
	}{
		{info.Bits == 16, "16-bit channels rounded to 8"},
		{info.Alpha, "alpha dropped"},
		{info.CMYK, "four ink channels converted without a profile"},
	} {
		if n.holds {
			info.Notes = append(info.Notes, n.note)
		}
	}
	return out
}

func (im *Image) eachRow(f func(y int, row []uint8)) {
	for y := 0; y < im.H; y++ {
		f(y, im.Pix[3*im.W*y:][:3*im.W])
	}
}

func copyRGB(row, in []uint8, w int, info *Info) {
	for x := 0; x < w; x++ {
		p := in[4*x : 4*x+4 : 4*x+4]
		row[3*x], row[3*x+1], row[3*x+2] = p[0], p[1], p[2]
		if p[3] != 255 {
			info.Alpha = true
		}
	}
}

func reduceRGB(row, in []uint8, w int, info *Info) {
	for x := 0; x < w; x++ {
		p := in[8*x : 8*x+8 : 8*x+8]
		row[3*x], row[3*x+1], row[3*x+2] = to8(p[0], p[1]), to8(p[2], p[3]), to8(p[4], p[5])
		if p[6]&p[7] != 255 {
			info.Alpha = true
		}
	}
}

// to8 rounds a big-endian 16-bit value to the nearest of 256 levels.
func to8(hi, lo uint8) uint8 { return uint8(((uint32(hi)<<8|uint32(lo))*255 + 32767) / 65535) }
