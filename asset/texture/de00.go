package texture

import "math"

// DE00 returns the CIEDE2000 difference of two Lab colours with kL = kC = kH = 1. It is symmetric and
// never negative.
//
// Accuracy: the 34 published test pairs to their last digit. Cost: about 0.2 us.
//
// Source: CIE 142-2001; Sharma, Wu, Dalal, Color Res. Appl. 30(1):21-30, 2005.
func DE00(p, q Lab) float64 {
	const pow25to7 = 6103515625.0
	c1, c2 := math.Hypot(p[1], p[2]), math.Hypot(q[1], q[2])
	cm7 := pow7((c1 + c2) / 2)
	g := 0.5 * (1 - math.Sqrt(cm7/(cm7+pow25to7)))
	a1, a2 := (1+g)*p[1], (1+g)*q[1]
	c1, c2 = math.Hypot(a1, p[2]), math.Hypot(a2, q[2])
	h1, h2 := hueDegrees(a1, p[2]), hueDegrees(a2, q[2])

	dl, dc := q[0]-p[0], c2-c1
	var dh, hm float64 // hue difference and mean, degrees
	if c1*c2 == 0 {
		hm = h1 + h2
	} else {
		dh, hm = h2-h1, (h1+h2)/2
		if math.Abs(dh) > 90 {
			// Half a turn or more is decided on the cross product, which is exactly zero for
			// opposite hues where the difference of two angles is not.
			cross := float64(a1*q[2]) - float64(p[2]*a2)
			if dh > 0 && cross < 0 || dh < 0 && cross > 0 {
				dh -= math.Copysign(360, dh)
				if h1+h2 < 360 {
					hm += 180
				} else {
					hm -= 180
				}
			}
		}
	}
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(radians(dh/2))

	lm, cm := (p[0]+q[0])/2, (c1+c2)/2
	t := 1 - 0.17*math.Cos(radians(hm-30)) + 0.24*math.Cos(radians(2*hm)) +
		0.32*math.Cos(radians(3*hm+6)) - 0.20*math.Cos(radians(4*hm-63))
	l50 := (lm - 50) * (lm - 50)
	sl := 1 + 0.015*l50/math.Sqrt(20+l50)
	sc := 1 + 0.045*cm
	sh := 1 + 0.015*cm*t
	e := (hm - 275) / 25
	cm7 = pow7(cm)
	rt := -2 * math.Sqrt(cm7/(cm7+pow25to7)) * math.Sin(radians(60*math.Exp(-e*e)))

	l, c, h := dl/sl, dc/sc, dH/sh
	return math.Sqrt(max(0, l*l+c*c+h*h+rt*c*h))
}

func pow7(x float64) float64 { s := x * x * x; return s * s * x }

func radians(degrees float64) float64 { return degrees * (math.Pi / 180) }

// hueDegrees returns the hue angle in 0..360, 0 for a grey.
func hueDegrees(a, b float64) float64 {
	if a == 0 && b == 0 {
		return 0
	}
	h := math.Atan2(b, a) * (180 / math.Pi)
	if h < 0 {
		h += 360
	}
	return h
}
