package surface

import "math"

// grid sorts points into cubes of one size. Cubes are hashed into a table of buckets; a bucket may hold
// points of several cubes, told apart by their keys.
type grid struct {
	cellM float64
	mask  uint64
	start []uint32     // of each bucket
	item  []uint32     // point numbers by bucket, ascending within one
	key   []uint64     // their cubes
	pos   [][3]float32 // their places
}

// span is a bucket's run of points, of which those with the key lie in one cube.
type span struct {
	from, to uint32
	key      uint64
}

// newGrid sorts every step-th point.
func newGrid(pos [][3]float32, step int, cellM float64) *grid {
	n := (len(pos) + step - 1) / step
	size := uint64(1)
	for size < uint64(2*n) {
		size <<= 1
	}
	g := &grid{
		cellM: cellM, mask: size - 1, start: make([]uint32, size+1),
		item: make([]uint32, n), key: make([]uint64, n), pos: make([][3]float32, n),
	}
	key := make([]uint64, n)
	for i := range key {
		c := g.cell(pos[i*step])
		key[i] = cellKey(c[0], c[1], c[2])
		g.start[mixed(key[i])&g.mask+1]++
	}
	for i := uint64(0); i < size; i++ {
		g.start[i+1] += g.start[i]
	}
	fill := append([]uint32(nil), g.start...)
	for i, k := range key {
		b := mixed(k) & g.mask
		at := fill[b]
		fill[b]++
		g.item[at], g.key[at], g.pos[at] = uint32(i*step), k, pos[i*step]
	}
	return g
}

func (g *grid) cell(p [3]float32) [3]int64 {
	var c [3]int64
	for k := 0; k < 3; k++ {
		c[k] = int64(math.Floor(float64(p[k]) / g.cellM))
	}
	return c
}

// cellKey packs a cube's numbers, 21 bits each.
func cellKey(x, y, z int64) uint64 {
	const m = 1<<21 - 1
	return uint64(x)&m<<42 | uint64(y)&m<<21 | uint64(z)&m
}

func mixed(k uint64) uint64 {
	k *= 0x9e3779b97f4a7c15
	return k ^ k>>32
}

// about returns the runs of points in the 27 cubes about p, empty ones left out.
func (g *grid) about(p [3]float32, into *[27]span) []span {
	c := g.cell(p)
	n := 0
	for x := c[0] - 1; x <= c[0]+1; x++ {
		for y := c[1] - 1; y <= c[1]+1; y++ {
			for z := c[2] - 1; z <= c[2]+1; z++ {
				key := cellKey(x, y, z)
				b := mixed(key) & g.mask
				if from, to := g.start[b], g.start[b+1]; from < to {
					into[n] = span{from, to, key}
					n++
				}
			}
		}
	}
	return into[:n]
}
