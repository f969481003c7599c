package change

import (
	"math"

	"mien/asset/terms"
	"mien/diff/surface"
)

// cover says how one class of surface is distributed over the body in both scans, in cm2 by region.
// Where something else than bare skin or hair lies on the other side, nothing was gained or lost: it
// was covered.
type cover struct {
	old, new     areas // of this class altogether
	gained, lost areas // seen on one scan, bare on the other
	stayed       areas // on both
	offMm        areas // area-weighted |distance| where it stayed, by region
}

// coverOf measures how class is worn in both scans. bare tells which classes on the other side count
// as nothing worn.
func coverOf(newToOld, oldToNew *surface.Field, class terms.Class, bare func(terms.Class) bool) *cover {
	c := &cover{}
	if newToOld == nil || oldToNew == nil {
		return c
	}
	walk := func(f *surface.Field, total, alone *areas, both bool) {
		for i, k := range f.Class {
			r := f.Region[i]
			if terms.Class(k) != class || r >= uint8(terms.RegionCount) {
				continue
			}
			w := float64(f.AreaM2[i]) * 1e4
			total[r] += w
			if f.State[i] == surface.Far {
				continue
			}
			switch on := terms.Class(f.OnCls[i]); {
			case on == class && both:
				c.stayed[r] += w
				c.offMm[r] += w * math.Abs(float64(f.DistMm[i]))
			case on != class && bare(on):
				alone[r] += w
			}
		}
	}
	walk(newToOld, &c.new, &c.gained, true)
	walk(oldToNew, &c.old, &c.lost, false)
	return c
}

// meanOffMm returns the mean distance of the two surfaces where the class stayed within p.
func (c *cover) meanOffMm(p place) float64 {
	if a := c.stayed.in(p); a > 0 {
		return c.offMm.in(p) / a
	}
	return 0
}
