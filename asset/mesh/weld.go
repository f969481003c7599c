package mesh

import (
	"context"
	"math"
)

// Weld returns the distinct positions of pos, in order of first appearance, and for each entry of
// pos its index among them. Equal means equal bits, with -0 taken as +0.
func Weld(ctx context.Context, pos [][3]float32) (unique [][3]float32, index []uint32, err error) {
	index = make([]uint32, len(pos))
	seen := make(map[[3]uint32]uint32, len(pos))
	for i, p := range pos {
		if err := cancelled(ctx, i); err != nil {
			return nil, nil, err
		}
		key := [3]uint32{bits(p[0]), bits(p[1]), bits(p[2])}
		j, ok := seen[key]
		if !ok {
			j = uint32(len(unique))
			seen[key] = j
			unique = append(unique, p)
		}
		index[i] = j
	}
	return unique, index, nil
}

func bits(f float32) uint32 {
	if f == 0 {
		return 0
	}
	return math.Float32bits(f)
}

// angleBetween returns the angle of two unit vectors in radians, stable near 0 and pi.
func angleBetween(u, v Vec) float64 {
	return math.Atan2(u.Cross(v).Len(), u.Dot(v))
}
