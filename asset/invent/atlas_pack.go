package invent

import (
	"math"
	"sort"
)

// frame returns the texels that a chart takes at scale, with its gutter.
func (c *chart) frame(scale float64) (w, h int) {
	w, h = int(math.Ceil(c.w*scale))+2*gutterTexels, int(math.Ceil(c.h*scale))+2*gutterTexels
	if c.upright {
		return h, w
	}
	return w, h
}

// fittingScale returns the largest scale at which the frames together are no larger than the atlas.
func fittingScale(charts []chart, size int) float64 {
	lo, hi := 0.0, 2.0
	for k := 0; k < 30; k++ {
		mid := (lo + hi) / 2
		sum := 0
		for i := range charts {
			w, h := charts[i].frame(mid)
			sum += w * h
		}
		if sum <= size*size {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// byHeight returns the charts' numbers, tallest frame first, ties in order.
func byHeight(charts []chart, scale float64) []int {
	order := make([]int, len(charts))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		_, ha := charts[order[a]].frame(scale)
		_, hb := charts[order[b]].frame(scale)
		return ha > hb
	})
	return order
}

// packShelves lays frames on their long side in rows, tallest first, each in the first row with room.
func packShelves(charts []chart, size int, scale float64) bool {
	for i := range charts {
		charts[i].upright = charts[i].h > charts[i].w
	}
	type shelf struct{ y, h, x int }
	var shelves []shelf
	top := 0
	for _, i := range byHeight(charts, scale) {
		c := &charts[i]
		w, h := c.frame(scale)
		row := -1
		for k := range shelves {
			if s := shelves[k]; h <= s.h && s.x+w <= size {
				row = k
				break
			}
		}
		if row < 0 {
			if top+h > size || w > size {
				return false
			}
			row = len(shelves)
			shelves = append(shelves, shelf{y: top, h: h})
			top += h
		}
		c.x, c.y = shelves[row].x, shelves[row].y
		shelves[row].x += w
	}
	return true
}

// skylineStep is the width in texels of a column of the skyline.
const skylineStep = 4

// packSkyline drops frames upright onto a skyline, tallest first, each where its top ends lowest.
func packSkyline(charts []chart, size int, scale float64) bool {
	for i := range charts {
		charts[i].upright = charts[i].w > charts[i].h
	}
	sky := make([]int, size/skylineStep)
	for _, i := range byHeight(charts, scale) {
		c := &charts[i]
		w, h := c.frame(scale)
		columns := (w + skylineStep - 1) / skylineStep
		best, at := math.MaxInt, -1
		for x := 0; x+columns <= len(sky); x++ {
			y := 0
			for _, s := range sky[x : x+columns] {
				y = max(y, s)
				if y >= best {
					break
				}
			}
			if y < best {
				best, at = y, x
			}
		}
		if at < 0 || best+h > size {
			return false
		}
		c.x, c.y = at*skylineStep, best
		for x := at; x < at+columns; x++ {
			sky[x] = best + h
		}
	}
	return true
}
