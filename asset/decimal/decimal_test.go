package decimal

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

func block(s string) []byte { return []byte(s + "\n        ") }

// Written as people and programs write them, and the places where a float32 is hard to get right.
func TestFloatsAreNearest(t *testing.T) {
	list := strings.Fields(`0 -0 0.0 1 -1 +1 1. .5 -.5 00012 0.123456 -1.790000 179.123456 1e3 1E-3 1.5e+2 12345678 123456789
		1234567890123456789 12345678901234567890123 0.1234567890123456789 0.00000000000000000000000000001234 3.4028235e38 3.4028236e38
		3.5e38 1e39 1e400 1e-400 1.17549435e-38 1.1754942e-38 1e-45 7e-46 16777217 16777219 33554435 1.00000005960464477539
		1.00000005960464477540 1.0000000596046448 0.999999970197677612 9007199254740993 9007199254740992.5 123456.7890625 8388608.5
		8388609.5 4194304.25 1e22 1e23 1e-22 1e-23 99999999 999999999 0.99999999 0.999999999 00000000000000000000001.5
		0.000000000000000000000000000000000000000000001 100000000000000000000000000000000000000 5e-324 2.2250738585072011e-308`)
	r := rand.New(rand.NewPCG(1, 2))
	for range 200000 {
		f := math.Float32frombits(r.Uint32())
		if f != f || math.IsInf(float64(f), 0) {
			continue
		}
		// The middle between two float32 numbers, cut at any length, is the hardest.
		middle := (float64(f) + float64(math.Nextafter32(f, 2*f))) / 2
		switch r.IntN(4) {
		case 0:
			list = append(list, strconv.FormatFloat(float64(f), 'g', -1, 32))
		case 1:
			list = append(list, strconv.FormatFloat(middle, 'e', r.IntN(20), 64))
		case 2:
			list = append(list, fmt.Sprintf("%.6f", r.NormFloat64()))
		case 3:
			list = append(list, strconv.FormatFloat(r.NormFloat64()*math.Pow(10, float64(r.IntN(30)-15)), 'f', r.IntN(25), 64))
		}
	}
	for _, s := range list {
		want32, _ := strconv.ParseFloat(s, 32)
		want64, _ := strconv.ParseFloat(s, 64)
		got32, end := Float32(block(s), 0)
		if math.Float32bits(got32) != math.Float32bits(float32(want32)) || end != len(s) {
			t.Fatalf("%q: float32 %v ending at %d, want %v", s, got32, end, float32(want32))
		}
		got64, end := Float64(block(s), 0)
		if math.Float64bits(got64) != math.Float64bits(want64) || end != len(s) {
			t.Fatalf("%q: float64 %v ending at %d, want %v", s, got64, end, want64)
		}
	}
}

func TestWhatIsNoNumber(t *testing.T) {
	for s, want := range map[string]int{"": 0, "-": 0, ".": 0, "e5": 0, "nan": 0, "inf": 0, "-inf": 0, "+.": 0, "1e": 1, "1e+": 1, "1ex": 1, "1.5.5": 3, "1-2": 1, "0x10": 1, "1/2": 1, "--1": 0} {
		if _, end := Float32(block(s), 0); end != want {
			t.Errorf("%q: ends at %d, want %d", s, end, want)
		}
	}
}

func TestUint(t *testing.T) {
	for _, s := range []string{"0", "7", "42", "12345678", "123456789", "4294967295", "00000000000000000012"} {
		want, _ := strconv.ParseUint(s, 10, 64)
		if got, end := Uint(block("x"+s+"/"), 1); got != want || end != 1+len(s) {
			t.Errorf("%q: %d ending at %d", s, got, end)
		}
	}
	for s, want := range map[string]int{"": 0, "a": 0, "-1": 0, "4294967296": -1, "99999999999999999999999999": -1} {
		if _, end := Uint(block(s), 0); end != want {
			t.Errorf("%q: ends at %d, want %d", s, end, want)
		}
	}
}

func BenchmarkFloat32(b *testing.B) {
	data := block("-0.123456")
	b.SetBytes(9)
	for b.Loop() {
		Float32(data, 0)
	}
}

func BenchmarkUint(b *testing.B) {
	data := block("1234567/")
	b.SetBytes(7)
	for b.Loop() {
		Uint(data, 0)
	}
}
