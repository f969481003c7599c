package mesh

import (
	"context"
	"math"
	"math/bits"
	"math/rand/v2"
)

// Weld returns the distinct positions of pos, in order of first appearance, and for each entry of
// pos its index among them. Equal means equal bits, with -0 taken as +0. When all are distinct,
// unique is pos itself.
//
// Cost: O(n) expected, whatever the positions: the hash is seeded anew for each call, and no seed shows
// in the result.
func Weld(ctx context.Context, pos [][3]float32) (unique [][3]float32, index []uint32, err error) {
	unique, index, err = weld(ctx, pos)
	if err == nil && index == nil {
		index = make([]uint32, len(pos))
		for i := range index {
			index[i] = uint32(i)
		}
	}
	return unique, index, err
}

// weld is [Weld] with a nil index when all positions are distinct.
func weld(ctx context.Context, pos [][3]float32) (unique [][3]float32, index []uint32, err error) {
	t := newTable(len(pos))
	unique = pos
	n := uint32(0) // distinct so far
	for i := range pos {
		if i&0xffff == 0 {
			if err := ctx.Err(); err != nil {
				return nil, nil, err
			}
		}
		p := [3]uint32{bitsOf(pos[i][0]), bitsOf(pos[i][1]), bitsOf(pos[i][2])}
		h := t.hash(uint64(p[0])|uint64(p[1])<<32, uint64(p[2]))
		tag := uint32(h) &^ t.number
		slot := h >> t.shift
		for ; ; slot = (slot + 1) & t.mask {
			e := t.slot[slot]
			if e == 0 {
				break
			}
			if e&^t.number != tag {
				continue
			}
			q := &unique[e&t.number-1]
			if bitsOf(q[0]) != p[0] || bitsOf(q[1]) != p[1] || bitsOf(q[2]) != p[2] {
				continue
			}
			if index == nil {
				index = make([]uint32, len(pos))
				for k := range i {
					index[k] = uint32(k)
				}
				unique = append(make([][3]float32, 0, len(pos)), pos[:i]...)
			}
			index[i] = e&t.number - 1
			break
		}
		if t.slot[slot] != 0 {
			continue
		}
		if index != nil {
			index[i] = n
			unique = append(unique, pos[i])
		}
		n++
		t.slot[slot] = tag | n
	}
	return unique, index, nil
}

// WeldUV is [Weld] for texture coordinates.
func WeldUV(ctx context.Context, uv [][2]float32) (unique [][2]float32, index []uint32, err error) {
	pos := make([][3]float32, len(uv))
	for i, c := range uv {
		pos[i] = [3]float32{c[0], c[1], 0}
	}
	pos, index, err = Weld(ctx, pos)
	if err != nil {
		return nil, nil, err
	}
	unique = make([][2]float32, len(pos))
	for i, p := range pos {
		unique[i] = [2]float32{p[0], p[1]}
	}
	return unique, index, nil
}

// table finds entries by hash: open addressing, at least half empty. A slot holds the entry's number
// from 1 in its low bits and bits of its hash above; 0 is a free slot.
type table struct {
	slot   []uint32
	mask   uint64
	number uint32 // the bits of a slot that hold the number
	shift  uint   // a hash's high bits choose the slot
	seed   [2]uint64
}

func newTable(entries int) table {
	width := bits.Len(uint(max(2*entries, 16) - 1))
	return table{
		slot: make([]uint32, 1<<width), mask: 1<<width - 1, shift: uint(64 - width),
		number: uint32(1<<bits.Len(uint(entries)) - 1), seed: [2]uint64{rand.Uint64(), rand.Uint64() | 1},
	}
}

// hash returns 64 bits of which each depends on every bit of a and b: the halves of 128-bit products,
// joined.
func (t *table) hash(a, b uint64) uint64 {
	hi, lo := bits.Mul64(a^t.seed[0], b^t.seed[1])
	hi, lo = bits.Mul64(hi^lo, t.seed[1])
	return hi ^ lo
}

func bitsOf(f float32) uint32 {
	if f == 0 {
		return 0
	}
	return math.Float32bits(f)
}

// angleBetween returns the angle of two unit vectors in radians, stable near 0 and pi.
func angleBetween(u, v Vec) float64 {
	return math.Atan2(u.Cross(v).Len(), u.Dot(v))
}
