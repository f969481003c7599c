package skin

// Quantile returns the q-quantile of v (nearest rank, q from 0 to 1) and reorders v. v must not be
// empty. Cost: O(n) expected.
func Quantile(v []float64, q float64) float64 {
	k := min(int(q*float64(len(v))), len(v)-1)
	lo, hi := 0, len(v)-1
	for lo < hi {
		p := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < p {
				i++
			}
			for v[j] > p {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}
