package near

import (
	"context"

	"mien/asset/mesh"
)

const curveBits = 11 // a dimension: 2048 cells along the longest side

// sortAlongCurve orders triangle numbers by the place of their boxes' centres on a Hilbert curve; equal
// places keep their order.
func sortAlongCurve(ctx context.Context, m *mesh.Mesh, tri []uint32) error {
	lo, hi, _ := m.Bounds()
	side := max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2])
	scale := 0.0
	if side > 0 {
		scale = (1<<curveBits - 1) / side
	}
	key := make([]uint64, len(tri))
	for i, t := range tri {
		if i&0xffff == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		a, b, c := m.Corner(int(t))
		var cell [3]uint32
		for k := 0; k < 3; k++ {
			mid := (min(a[k], b[k], c[k]) + max(a[k], b[k], c[k])) / 2
			cell[k] = uint32((mid - lo[k]) * scale)
		}
		key[i] = hilbert(cell)
	}
	radixSort(key, tri)
	return nil
}

// hilbert returns the place of a cell on the three-dimensional Hilbert curve.
//
// Source: Skilling, Programming the Hilbert curve, AIP Conf. Proc. 707 (2004), 381-387 (from memory).
func hilbert(x [3]uint32) uint64 {
	const top = uint32(1) << (curveBits - 1)
	for q := top; q > 1; q >>= 1 {
		p := q - 1
		for i := 0; i < 3; i++ {
			if x[i]&q != 0 {
				x[0] ^= p
			} else {
				t := (x[0] ^ x[i]) & p
				x[0] ^= t
				x[i] ^= t
			}
		}
	}
	x[1] ^= x[0]
	x[2] ^= x[1]
	var t uint32
	for q := top; q > 1; q >>= 1 {
		if x[2]&q != 0 {
			t ^= q - 1
		}
	}
	var key uint64
	for b := curveBits - 1; b >= 0; b-- {
		for i := 0; i < 3; i++ {
			key = key<<1 | uint64((x[i]^t)>>b&1)
		}
	}
	return key
}

// radixSort sorts key ascending, 11 bits a pass, and carries val along. It is stable.
func radixSort(key []uint64, val []uint32) {
	k2, v2 := make([]uint64, len(key)), make([]uint32, len(val))
	for shift := 0; shift < 3*curveBits; shift += 11 {
		var start [1 << 11]int
		for _, k := range key {
			start[k>>shift&(1<<11-1)]++
		}
		sum := 0
		for i, n := range start {
			start[i] = sum
			sum += n
		}
		for i, k := range key {
			d := k >> shift & (1<<11 - 1)
			k2[start[d]], v2[start[d]] = k, val[i]
			start[d]++
		}
		key, k2 = k2, key
		val, v2 = v2, val
	}
	// Three passes leave the result in the scratch slices.
	copy(k2, key)
	copy(v2, val)
}
