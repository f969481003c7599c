package picture

import (
	"math"

	"mien/asset/texture"
)

// The colours of measured change, in CIE Lab: a warm paper grey where nothing moved, deep teal where
// the new surface lies inside the old one, burnt orange where it lies outside. Each arm is a quadratic
// curve through a bend that brings colour in early, walked at an even pace of CIEDE2000, so that equal
// steps of the measured value look equal; lightness falls all the way. Both ends have one lightness and
// differ in blue against yellow, which the common forms of colour blindness leave alone.
var (
	heatCentre = texture.Lab{86, 1, 5}
	heatBend   = [2]texture.Lab{{68, -21, -10}, {70, 28, 44}}
	heatEnd    = [2]texture.Lab{{41, -15, -21}, {43.2, 45, 50}}
)

const heatSteps = 256

// heatTable holds the two arms in linear light, from the centre out.
var heatTable = func() (table [2][heatSteps + 1][3]float32) {
	for arm := range table {
		for i, c := range evenCurve(heatCentre, heatBend[arm], heatEnd[arm], heatSteps) {
			table[arm][i] = clip(texture.LinearFromLab(c))
		}
	}
	return table
}()

// evenCurve returns steps+1 points of the quadratic curve from a over bend to b, at equal distances of
// CIEDE2000 along it.
func evenCurve(a, bend, b texture.Lab, steps int) []texture.Lab {
	const fine = 4096
	at := func(t float64) (c texture.Lab) {
		for k := range c {
			c[k] = (1-t)*(1-t)*a[k] + 2*t*(1-t)*bend[k] + t*t*b[k]
		}
		return c
	}
	length := make([]float64, fine+1)
	for i := 1; i <= fine; i++ {
		length[i] = length[i-1] + texture.DE00(at(float64(i-1)/fine), at(float64(i)/fine))
	}
	out := make([]texture.Lab, steps+1)
	j := 0
	for i := range out {
		want := length[fine] * float64(i) / float64(steps)
		for j < fine-1 && length[j+1] < want {
			j++
		}
		f := 0.0
		if d := length[j+1] - length[j]; d > 0 {
			f = (want - length[j]) / d
		}
		out[i] = at((float64(j) + min(f, 1)) / fine)
	}
	return out
}

func clip(c [3]float32) [3]float32 {
	for k := range c {
		c[k] = min(max(c[k], 0), 1)
	}
	return c
}

// HeatColor returns the colour of a measured value, linear light 0..1: paper grey at 0, full teal at
// -limit and beyond, full orange at limit and beyond.
func HeatColor(value, limit float64) [3]float32 {
	if !(limit > 0) || math.IsNaN(value) {
		return heatTable[0][0]
	}
	arm := 0
	if value > 0 {
		arm = 1
	}
	t := min(math.Abs(value)/limit, 1) * heatSteps
	i := min(int(t), heatSteps-1)
	f := float32(t - float64(i))
	a, b := heatTable[arm][i], heatTable[arm][i+1]
	for k := range a {
		a[k] += f * (b[k] - a[k])
	}
	return a
}

// VertexColors returns the heat colour of each value as an opaque linear 8-bit colour, as a mesh file
// holds it. A value that is not a number (not measured) is a darker grey.
func VertexColors(values []float32, limit float64) [][4]uint8 {
	out := make([][4]uint8, len(values))
	for i, v := range values {
		c := unseen
		if v == v {
			c = HeatColor(float64(v), limit)
		}
		out[i] = [4]uint8{uint8(c[0]*255 + 0.5), uint8(c[1]*255 + 0.5), uint8(c[2]*255 + 0.5), 255}
	}
	return out
}

// unseen is what surface without a measurement looks like.
var unseen = texture.LinearFromLab(texture.Lab{62, 0, 2})
