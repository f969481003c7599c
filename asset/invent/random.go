package invent

import "math"

// random is the splitmix64 generator.
//
// Source: Steele, Lea, Flood, Fast splittable pseudorandom number generators, OOPSLA 2014; constants
// from memory.
type random struct{ state uint64 }

// newRandom returns a generator for one purpose of one seed.
func newRandom(seed uint64, purpose string) *random {
	h := uint64(14695981039346656037)
	for i := 0; i < len(purpose); i++ {
		h = (h ^ uint64(purpose[i])) * 1099511628211
	}
	return &random{state: mix(seed ^ mix(h))}
}

func (r *random) next() uint64 {
	r.state += 0x9e3779b97f4a7c15
	return mix(r.state)
}

func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// unit returns a number in [0, 1).
func (r *random) unit() float64 { return float64(r.next()>>11) / (1 << 53) }

// between returns a number in [a, b).
func (r *random) between(a, b float64) float64 { return a + (b-a)*r.unit() }

// pick returns a number from 0 to n-1.
func (r *random) pick(n int) int { return int(r.next() % uint64(n)) }

// about returns a number around mean with the given standard deviation, never further than 2.2
// deviations away.
func (r *random) about(mean, sd float64) float64 {
	for {
		if g := r.gauss(); math.Abs(g) <= 2.2 {
			return mean + sd*g
		}
	}
}

// gauss returns a standard normal number (Box and Muller 1958).
func (r *random) gauss() float64 {
	return math.Sqrt(-2*math.Log(1-r.unit())) * math.Cos(2*math.Pi*r.unit())
}
