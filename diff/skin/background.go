package skin

import (
	"context"
	"math"

	"mien/asset/near"
)

// Window sizes of the background: wide enough to look past a hand-sized tattoo's edge, narrow enough
// to follow shading over a limb.
const (
	cellM   = 0.012
	windowM = 0.05
)

// Patches are cells of about 12 mm of one class of surface, with the mean place and direction of their
// samples. They carry slowly varying values: the colour of the skin around, the shift of a tint.
type Patches struct {
	Of    []int32 // patch of each sample, -1 for none
	grid  *Grid
	class []uint8
	start []int32 // patch -> first entry of members
	items []uint32
}

// NewPatches groups the samples that use holds into patches. class may differ by sample; a patch has
// one class.
func NewPatches(pos, normal [][3]float32, class []uint8, use []bool) *Patches {
	p := &Patches{Of: make([]int32, len(pos))}
	cells := &Grid{cellM: cellM}
	index := make(map[uint64]int32)
	var count []int32
	var sumPos, sumNormal [][3]float64
	for i := range pos {
		if !use[i] {
			p.Of[i] = -1
			continue
		}
		x, y, z := cells.coord(pos[i])
		key := (pack(x, y, z)*6+facing(normal[i]))*16 + uint64(class[i])
		c, ok := index[key]
		if !ok {
			c = int32(len(count))
			index[key] = c
			count = append(count, 0)
			sumPos = append(sumPos, [3]float64{})
			sumNormal = append(sumNormal, [3]float64{})
			p.class = append(p.class, class[i])
		}
		p.Of[i] = c
		count[c]++
		for k := range 3 {
			sumPos[c][k] += float64(pos[i][k])
			sumNormal[c][k] += float64(normal[i][k])
		}
	}
	mean := make([][3]float32, len(count))
	dir := make([][3]float32, len(count))
	p.start = make([]int32, len(count)+1)
	for c, n := range count {
		p.start[c+1] = p.start[c] + n
		l := 0.0
		for k := range 3 {
			mean[c][k] = float32(sumPos[c][k] / float64(n))
			l += sumNormal[c][k] * sumNormal[c][k]
		}
		if l > 0 {
			for k := range 3 {
				dir[c][k] = float32(sumNormal[c][k] / math.Sqrt(l))
			}
		}
	}
	p.items = make([]uint32, p.start[len(count)])
	next := append([]int32(nil), p.start...)
	for i, c := range p.Of {
		if c >= 0 {
			p.items[next[c]] = uint32(i)
			next[c]++
		}
	}
	p.grid = NewGrid(mean, dir, windowM)
	return p
}

// facing is the axis and sign that a normal looks along most, 0 to 5.
func facing(n [3]float32) uint64 {
	best, at := float32(0), 0
	for k, v := range n {
		if v > best {
			best, at = v, 2*k
		}
		if -v > best {
			best, at = -v, 2*k+1
		}
	}
	return uint64(at)
}

// At returns the middle and the mean unit normal of patch p.
func (p *Patches) At(k int) (pos, normal [3]float32) { return p.grid.pos[k], p.grid.normal[k] }

// Len returns the number of patches.
func (p *Patches) Len() int { return len(p.class) }

// Shift returns for each patch the robust mean of value around it: the median over the patches of one
// class within 5 cm of their own medians, each component by itself.
func (p *Patches) Shift(ctx context.Context, value [][3]float32) ([][3]float32, error) {
	own := make([][3]float32, p.Len())
	near.Share(ctx, p.Len(), 256, func(lo, hi int) {
		var buf []float64
		for c := lo; c < hi; c++ {
			for k := range 3 {
				buf = buf[:0]
				for _, i := range p.items[p.start[c]:p.start[c+1]] {
					buf = append(buf, float64(value[i][k]))
				}
				own[c][k] = float32(Quantile(buf, 0.5))
			}
		}
	})
	out := make([][3]float32, p.Len())
	err := p.grid.Each(ctx, windowM, func(c uint32, around []uint32) {
		buf := make([]float64, 0, len(around))
		for k := range 3 {
			buf = buf[:0]
			for _, d := range around {
				if p.class[d] == p.class[c] {
					buf = append(buf, float64(own[d][k]))
				}
			}
			out[c][k] = float32(Quantile(buf, 0.5))
		}
	})
	return out, err
}

// Bare returns for each patch the colour of the bare skin around it: ink and hair are darker than the
// skin that carries them, so the mean over the lighter part of the patches within 5 cm, where each
// patch counts by the lighter half of its own samples. lab is CIE Lab.
func (p *Patches) Bare(ctx context.Context, lab [][3]float32) ([][3]float32, error) {
	own := make([][3]float32, p.Len())
	near.Share(ctx, p.Len(), 256, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			own[c] = lighter(lab, p.items[p.start[c]:p.start[c+1]], 0.5, 0.95)
		}
	})
	out := make([][3]float32, p.Len())
	err := p.grid.Each(ctx, windowM, func(c uint32, around []uint32) {
		idx := make([]uint32, 0, len(around))
		for _, d := range around {
			if p.class[d] == p.class[c] {
				idx = append(idx, d)
			}
		}
		out[c] = lighter(own, idx, 0.45, 0.9)
	})
	return out, err
}

// lighter returns the mean of the entries of lab named by idx whose lightness lies between the two
// quantiles.
func lighter(lab [][3]float32, idx []uint32, from, to float64) [3]float32 {
	var buf [96]float64
	l := buf[:0]
	for _, i := range idx {
		l = append(l, float64(lab[i][0]))
	}
	lo := Quantile(l, from)
	hi := Quantile(l, to)
	var sum [3]float64
	n := 0.0
	for _, i := range idx {
		if v := float64(lab[i][0]); v < lo || v > hi {
			continue
		}
		for k := range sum {
			sum[k] += float64(lab[i][k])
		}
		n++
	}
	return [3]float32{float32(sum[0] / n), float32(sum[1] / n), float32(sum[2] / n)}
}
