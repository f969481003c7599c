package body

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/section"
	"mien/asset/terms"
)

// estimateHead labels a head scan that ends at the neck.
func estimateHead(m *mesh.Mesh) []uint8 {
	lo, hi, _ := m.Bounds()
	loop := func(y float64) *flatLoop {
		var best *flatLoop
		for _, l := range section.Cut(m, section.NewPlane(mesh.Vec{0, y, 0}, mesh.Vec{0, 1, 0}), nil) {
			f := flatLoop{c: l.Centroid(), area: l.Area(),
				lo: mesh.Vec{math.Inf(1), y, math.Inf(1)}, hi: mesh.Vec{math.Inf(-1), y, math.Inf(-1)}}
			for _, q := range l.Pts {
				p := l.Plane.Lift(q)
				for k := 0; k < 3; k += 2 {
					f.lo[k], f.hi[k] = min(f.lo[k], p[k]), max(f.hi[k], p[k])
				}
			}
			if best == nil || f.area > best.area {
				best = &f
			}
		}
		return best
	}
	// The neck is the smallest level section of the lower half.
	neck, area := lo[1], math.Inf(1)
	for t := 0.02; t < 0.5; t += 0.02 {
		y := lo[1] + t*(hi[1]-lo[1])
		if l := loop(y); l != nil && l.area < area {
			neck, area = y, l.area
		}
	}
	f := headFrame{crown: hi[1]}
	f.fill(neck, loop)
	labels := make([]uint8, len(m.Pos))
	for v := range labels {
		p := m.At(uint32(v))
		switch {
		case p[1] > f.split(p[2]):
			labels[v] = uint8(f.region(p))
		case p[2] > f.midZ-0.02:
			labels[v] = uint8(terms.NeckFront)
		default:
			labels[v] = uint8(terms.NeckBack)
		}
	}
	clearStand(m, labels)
	return labels
}
