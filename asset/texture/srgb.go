package texture

import "math"

// DecodeSRGB returns the linear light (0..1) of an sRGB value (0..1).
//
// Source: IEC 61966-2-1:1999.
func DecodeSRGB(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// EncodeSRGB returns the sRGB value (0..1) of linear light v; v is clamped to 0..1 first.
//
// Source: IEC 61966-2-1:1999.
func EncodeSRGB(v float64) float64 {
	switch {
	case !(v > 0):
		return 0
	case v >= 1:
		return 1
	case v <= 0.0031308:
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// Linear holds the linear light of each 8-bit sRGB code.
var Linear = func() (t [256]float32) {
	for i := range t {
		t[i] = float32(DecodeSRGB(float64(i) / 255))
	}
	return t
}()

const encodeBuckets = 4096

// encodeFrom[k] is the code of linear light k/encodeBuckets; encodeStep[c] is the least linear light
// whose code exceeds c. At most one step falls into a bucket, since the curve rises by at most
// 12.92*255 = 3295 codes a unit.
var encodeFrom, encodeStep = func() (from [encodeBuckets + 1]uint8, step [256]float32) {
	for c := 0; c < 255; c++ {
		step[c] = float32(DecodeSRGB((float64(c) + 0.5) / 255))
	}
	step[255] = float32(math.Inf(1))
	c := 0
	for k := range from {
		for float32(k)/encodeBuckets >= step[c] {
			c++
		}
		from[k] = uint8(c)
	}
	return from, step
}()

// Encode8 returns the nearest 8-bit sRGB code of linear light v; v is clamped to 0..1, NaN gives 0.
func Encode8(v float32) uint8 {
	if !(v > 0) {
		return 0
	}
	if v >= 1 {
		return 255
	}
	c := encodeFrom[int(v*encodeBuckets)]
	if v >= encodeStep[c] {
		c++
	}
	return c
}
