// Package decimal reads decimal numbers out of bytes, exactly: every result is the number nearest to
// what is written, as [strconv.ParseFloat] gives it.
//
// Functions read at a place of a block and return the place after the number. A block must have
// [Pad] readable bytes behind its last number, the first of which is no part of one (a line's end).
package decimal

import (
	"encoding/binary"
	"math"
	"math/bits"
	"strconv"
)

// Pad is the count of bytes that a block must have behind the last number.
const Pad = 8

const (
	zeros = 0x3030303030303030
	above = 0x7676767676767676 // 0x80 - 10: what lifts a byte above 9 over the top bit
	tops  = 0x8080808080808080
)

// eight returns the decimal digits that b begins with, eight at most: their value and count.
// Eight characters at once: three multiplications join neighbours to pairs, fours and eights.
func eight(b []byte) (value uint64, n int) {
	w := binary.LittleEndian.Uint64(b) ^ zeros
	if stop := (w + above | w) & tops; stop != 0 {
		n = bits.TrailingZeros64(stop) >> 3
		w <<= uint(64 - 8*n)
	} else {
		n = 8
	}
	w = w * 2561 >> 8 & 0x00ff00ff00ff00ff
	w = w * 6553601 >> 16 & 0x0000ffff0000ffff
	return w * 42949672960001 >> 32, n
}

// Uint reads an unsigned number at place i of b. It returns the number and the place after it, i
// itself when no digit stands there, and -1 for a number above [math.MaxUint32].
func Uint(b []byte, i int) (value uint64, end int) {
	value, n := eight(b[i:])
	i += n
	if n < 8 {
		return value, i
	}
	for c := b[i] - '0'; c <= 9; c = b[i] - '0' {
		value = 10*value + uint64(c)
		if value > math.MaxUint32 {
			return 0, -1
		}
		i++
	}
	return value, i
}

// number is a decimal number as written: mantissa * 10^exponent. It is inexact when the mantissa has
// more digits than fit.
type number struct {
	mantissa uint64
	exponent int
	negative bool
	inexact  bool
}

// scan reads a number at place i of b: [+-] digits [. digits] [eE [+-] digits]. It returns the place
// after it, or i when there is none.
func scan(b []byte, i int) (x number, end int) {
	start := i
	switch b[i] {
	case '-':
		x.negative = true
		i++
	case '+':
		i++
	}
	v, n := eight(b[i:])
	x.mantissa, i = v, i+n
	digits := n
	if n == 8 {
		i = x.more(b, i, false, &digits)
	}
	if b[i] == '.' {
		i++
		v, n = eight(b[i:])
		if x.mantissa == 0 || digits+n < 19 {
			x.mantissa = x.mantissa*powers[n] + v
			x.exponent -= n
			digits += n
			i += n
			if n == 8 {
				i = x.more(b, i, true, &digits)
			}
		} else {
			i = x.more(b, i, true, &digits)
		}
	}
	if digits == 0 {
		return x, start
	}
	if b[i]|0x20 == 'e' {
		i = x.power(b, i)
	}
	return x, i
}

// more reads further digits one by one; those that do not fit count in the exponent only.
func (x *number) more(b []byte, i int, fraction bool, digits *int) int {
	for c := b[i] - '0'; c <= 9; c = b[i] - '0' {
		if x.mantissa < 1e18 {
			x.mantissa = 10*x.mantissa + uint64(c)
			if fraction {
				x.exponent--
			}
		} else {
			x.inexact = true
			if !fraction {
				x.exponent++
			}
		}
		*digits++
		i++
	}
	return i
}

// power reads an exponent at place i, where the letter stands. Without digits it is no part of the
// number.
func (x *number) power(b []byte, i int) int {
	j, sign := i+1, 1
	if b[j] == '-' || b[j] == '+' {
		if b[j] == '-' {
			sign = -1
		}
		j++
	}
	if b[j]-'0' > 9 {
		return i
	}
	e := 0
	for c := b[j] - '0'; c <= 9; c = b[j] - '0' {
		e = min(10*e+int(c), 1<<16)
		j++
	}
	x.exponent += sign * e
	return j
}

var powers = [9]uint64{1, 10, 100, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8}

// exactPowers are the powers of ten that a float64 holds exactly.
var exactPowers = [23]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// near returns x in float64, off by two units in the last place at most, and whether it is that.
func (x *number) near() (f float64, ok bool) {
	f = float64(x.mantissa)
	switch {
	case x.exponent == 0:
	case x.exponent < 0 && x.exponent >= -22:
		f /= exactPowers[-x.exponent]
	case x.exponent > 0 && x.exponent <= 22:
		f *= exactPowers[x.exponent]
	default:
		return 0, x.mantissa == 0
	}
	if x.negative {
		f = -f
	}
	return f, true
}

// Float32 reads a number at place i of b, rounded once to float32. It returns the place after it, or i
// when no number stands there. Too great a number is infinite, the words of infinity and NaN are no
// numbers.
//
// A float64 within two units of the truth rounds to the same float32 as the truth unless it lies
// within as much of the middle between two; such numbers, very long, large and small ones go to
// [strconv.ParseFloat].
func Float32(b []byte, i int) (value float32, end int) {
	x, end := scan(b, i)
	if end == i {
		return 0, i
	}
	f, ok := x.near()
	const half = 1 << 28 // of the 29 bits that float32 lacks
	low := math.Float64bits(f)&(2*half-1) - (half - 4)
	if !ok || x.inexact || low <= 8 || (f > -0x1p-126 && f < 0x1p-126 && x.mantissa != 0) {
		v, _ := strconv.ParseFloat(string(b[i:end]), 32)
		return float32(v), end
	}
	if x.mantissa == 0 && x.negative {
		return float32(math.Copysign(0, -1)), end
	}
	return float32(f), end
}

// Float64 is [Float32] for float64.
func Float64(b []byte, i int) (value float64, end int) {
	x, end := scan(b, i)
	if end == i {
		return 0, i
	}
	f, ok := x.near()
	if !ok || x.inexact || x.mantissa >= 1<<53 {
		f, _ = strconv.ParseFloat(string(b[i:end]), 64)
	} else if x.mantissa == 0 && x.negative {
		f = math.Copysign(0, -1)
	}
	return f, end
}
