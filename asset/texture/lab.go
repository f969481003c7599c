package texture

import "math"

// Lab is a colour in CIE L*a*b* against the white (0.9505, 1, 1.0890), the row sums of the sRGB
// matrix, so that sRGB white is exactly (100, 0, 0).
type Lab [3]float64

// The white that [Lab] refers to.
const whiteX, whiteZ = 0.9505, 1.0890

// XYZ returns the tristimulus values of linear sRGB light.
//
// Source: IEC 61966-2-1:1999, four-digit matrix.
func XYZ(rgb [3]float32) (x, y, z float64) {
	r, g, b := float64(rgb[0]), float64(rgb[1]), float64(rgb[2])
	x = 0.4124*r + 0.3576*g + 0.1805*b
	y = 0.2126*r + 0.7152*g + 0.0722*b
	z = 0.0193*r + 0.1192*g + 0.9505*b
	return x, y, z
}

// LabFromLinear returns the Lab colour of linear sRGB light.
//
// Source: CIE 15:2004, 8.2.1.
func LabFromLinear(rgb [3]float32) Lab {
	x, y, z := XYZ(rgb)
	fx, fy, fz := labCurve(x/whiteX), labCurve(y), labCurve(z/whiteZ)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

// LabFromSRGB8 returns the Lab colour of 8-bit sRGB codes.
func LabFromSRGB8(r, g, b uint8) Lab {
	return LabFromLinear([3]float32{Linear[r], Linear[g], Linear[b]})
}

// LinearFromLab returns the linear sRGB light of a Lab colour; values outside 0..1 mean that sRGB
// cannot show it.
func LinearFromLab(c Lab) [3]float32 {
	fy := (c[0] + 16) / 116
	x, y, z := whiteX*labUncurve(fy+c[1]/500), labUncurve(fy), whiteZ*labUncurve(fy-c[2]/200)
	m := &rgbFromXYZ
	return [3]float32{
		float32(m[0][0]*x + m[0][1]*y + m[0][2]*z),
		float32(m[1][0]*x + m[1][1]*y + m[1][2]*z),
		float32(m[2][0]*x + m[2][1]*y + m[2][2]*z),
	}
}

const labEdge = 6.0 / 29

func labCurve(t float64) float64 {
	if t > labEdge*labEdge*labEdge {
		return math.Cbrt(t)
	}
	return t/(3*labEdge*labEdge) + 4.0/29
}

func labUncurve(f float64) float64 {
	if f > labEdge {
		return f * f * f
	}
	return 3 * labEdge * labEdge * (f - 4.0/29)
}

// rgbFromXYZ is the inverse of the matrix in [XYZ], by cofactors, so that a round trip is exact.
var rgbFromXYZ = func() (inv [3][3]float64) {
	m := [3][3]float64{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}
	var det float64
	for j := 0; j < 3; j++ {
		det += m[0][j] * (m[1][(j+1)%3]*m[2][(j+2)%3] - m[1][(j+2)%3]*m[2][(j+1)%3])
	}
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			inv[j][i] = (m[(i+1)%3][(j+1)%3]*m[(i+2)%3][(j+2)%3] - m[(i+1)%3][(j+2)%3]*m[(i+2)%3][(j+1)%3]) / det
		}
	}
	return inv
}()
