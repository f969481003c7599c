package change

import "math"

// strength turns an amount of evidence into 0..1: one half at half, towards 1 for much more.
func strength(amount, half float64) float64 {
	if amount <= 0 {
		return 0
	}
	return amount / (amount + half)
}

// most is the confidence that no finding exceeds before it has been checked by a person.
const most = 0.95

// confidence combines independent pieces of evidence, each 0..1: their geometric mean, scaled to most
// and rounded to hundredths. It rises with every piece and is 0 when one is missing altogether. It
// orders findings; as a probability it is not calibrated.
func confidence(pieces ...float64) float64 {
	product := 1.0
	for _, p := range pieces {
		product *= p
	}
	c := most * math.Pow(product, 1/float64(len(pieces)))
	return math.Round(c*100) / 100
}
