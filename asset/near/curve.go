package near

import (
	"context"
	"fmt"
	"math"

	"mien/asset/mesh"
)

const (
	curveBits = 11 // a dimension: 2048 cells along the longest side; also in kernel_amd64.s
	codeBits  = 3 * curveBits
	indexBits = 64 - codeBits // what a sorting key leaves for the number of a triangle or point
)

// cells lays a grid of 2048 cells a side over a box.
type cells struct {
	lo     mesh.Vec
	scale  float64 // cells a metre
	reachM float64 // greatest coordinate, without its sign
}

// newCells covers pos. It returns an error naming the first position that is not finite.
func newCells(pos [][3]float32) (cells, error) {
	inf := float32(math.Inf(1))
	lo, hi := [3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}
	for i := range pos {
		p := &pos[i]
		// A difference with itself is 0 for finite numbers only.
		if s := p[0] - p[0] + p[1] - p[1] + p[2] - p[2]; s != 0 {
			return cells{}, fmt.Errorf("vertex %d: coordinates %v, allowed are finite numbers", i, *p)
		}
		for k, v := range p {
			if v < lo[k] {
				lo[k] = v
			}
			if v > hi[k] {
				hi[k] = v
			}
		}
	}
	return cellsOver(widen(lo), widen(hi)), nil
}

func cellsOver(lo, hi mesh.Vec) cells {
	c := cells{lo: lo}
	for k := range lo {
		c.reachM = max(c.reachM, math.Abs(lo[k]), math.Abs(hi[k]))
	}
	if side := max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2]); side > 0 {
		c.scale = (1<<curveBits - 1) / side
	}
	return c
}

// code writes the places on the Hilbert curve of the cells that hold n points of the box into key,
// above what stands there.
func (c *cells) code(key []uint64, at func(i int) (x, y, z float64)) {
	var cell [3][fan]uint32
	var code [fan]uint64
	for from := 0; from < len(key); from += fan {
		eight := key[from:min(from+fan, len(key))]
		for k := range eight {
			x, y, z := at(from + k)
			cell[0][k&(fan-1)] = uint32((x - c.lo[0]) * c.scale)
			cell[1][k&(fan-1)] = uint32((y - c.lo[1]) * c.scale)
			cell[2][k&(fan-1)] = uint32((z - c.lo[2]) * c.scale)
		}
		hilberts(&cell, &code)
		for k := range eight {
			eight[k] |= code[k&(fan-1)] << indexBits
		}
	}
}

func hilbertsGo(cell *[3][fan]uint32, code *[fan]uint64) {
	for k := range code {
		code[k] = hilbert(cell[0][k], cell[1][k], cell[2][k])
	}
}

// hilbert returns the place of a cell on the three-dimensional Hilbert curve, two levels at a time.
func hilbert(x, y, z uint32) uint64 {
	m := spread(x)<<2 | spread(y)<<1 | spread(z)
	var code uint64
	// The entry turns, so that the topmost level, where all is in the first octant, turns nothing.
	e := uint64(turns[0])
	for shift := 30; shift >= 0; shift -= 6 {
		e = uint64(turns[(e&^63|m>>shift&63)%uint64(len(turns))])
		code = code<<6 | e&63
	}
	return code
}

// spread puts two zero bits between the 12 lowest bits of x.
func spread(x uint32) uint64 {
	v := uint64(x)
	v = (v | v<<16) & 0x0000_00ff_0000_ff
	v = (v | v<<8) & 0x00f0_0f00_f00f
	v = (v | v<<4) & 0x0c30_c30c_30c3
	return (v | v<<2) & 0x2492_4924_9249
}

// turns gives for a turn of the curve (times 64) and two levels of octants the turn below (times 64)
// and two digits of the code.
var turns = turnTable()

// turn is how the curve lies in a cell: which axis stands for which, which run backwards, and whether
// digits are inverted.
type turn struct {
	axis   [3]uint8
	back   [3]uint8
	invert uint8
}

// step returns the digit of an octant and how the curve lies in it.
//
// Source: Skilling, Programming the Hilbert curve, AIP Conf. Proc. 707 (2004), 381-387 (from memory).
func (t turn) step(octant uint8) (digit uint8, next turn) {
	raw := [3]uint8{octant >> 2 & 1, octant >> 1 & 1, octant & 1}
	var x [3]uint8
	for i := range x {
		x[i] = raw[t.axis[i]] ^ t.back[i]
	}
	next = t
	for i := range x {
		if x[i] == 1 {
			next.back[0] ^= 1
		} else {
			next.axis[0], next.axis[i] = next.axis[i], next.axis[0]
			next.back[0], next.back[i] = next.back[i], next.back[0]
		}
	}
	g1 := x[0] ^ x[1]
	g2 := g1 ^ x[2]
	next.invert ^= g2
	return (x[0]^t.invert)<<2 | (g1^t.invert)<<1 | g2 ^ t.invert, next
}

func turnTable() (out [64 * 64]uint16) {
	all := []turn{{axis: [3]uint8{0, 1, 2}}}
	number := map[turn]int{all[0]: 0}
	for i := 0; i < len(all); i++ {
		for two := uint8(0); two < 64; two++ {
			d1, t := all[i].step(two >> 3)
			d2, t := t.step(two & 7)
			n, ok := number[t]
			if !ok {
				n = len(all)
				number[t] = n
				all = append(all, t)
			}
			out[i*64+int(two)] = uint16(n)<<6 | uint16(d1)<<3 | uint16(d2)
		}
	}
	return out
}

// radixSort sorts keys by their code, 11 bits a pass; equal codes keep their order. The result may
// stand in new memory.
func radixSort(ctx context.Context, key []uint64) []uint64 {
	const digits = 1 << 11
	n := len(key)
	other := make([]uint64, n)
	piece := pieceOf(n, 1<<15)
	start := make([][digits]uint32, (n+piece-1)/piece)
	for shift := indexBits; shift < 64; shift += 11 {
		Share(ctx, n, piece, func(from, to int) {
			s := &start[from/piece]
			*s = [digits]uint32{}
			for _, k := range key[from:to] {
				s[k>>shift&(digits-1)]++
			}
		})
		var sum uint32
		for d := 0; d < digits; d++ {
			for p := range start {
				start[p][d], sum = sum, sum+start[p][d]
			}
		}
		Share(ctx, n, piece, func(from, to int) {
			s := &start[from/piece]
			for _, k := range key[from:to] {
				d := k >> shift & (digits - 1)
				other[s[d]] = k
				s[d]++
			}
		})
		if ctx.Err() != nil {
			return key
		}
		key, other = other, key
	}
	return key
}
