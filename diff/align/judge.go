package align

import (
	"context"
	"fmt"
	"math"
	"sort"

	"mien/diff/surface"
)

const (
	overlapM      = 0.015
	leastOverlap  = 0.5
	leastStiff    = 0.004 // below: a motion exists that nothing holds
	worstMedianMm = 3.0
)

// judge measures how well the placement holds.
func (a *Alignment) judge(ctx context.Context, c *cloud, old *surface.Side, f fit) error {
	part, err := partners(ctx, c, old, f.pose, .06)
	if err != nil {
		return err
	}
	var within, near, sq, sum float64
	type pair struct{ r, w float64 }
	var firm []pair
	var total float64
	for i, q := range part {
		within++
		if !q.Found || q.Rim || f.pose.Turn(c.normal[i]).Dot(q.Normal) < facing {
			continue
		}
		d := q.Pos.Sub(f.pose.Apply(c.pos[i]))
		if r := d.Len(); r < overlapM {
			near++
		}
		w := c.usable(i, f.pose, q)
		r := math.Abs(d.Dot(q.Normal))
		firm = append(firm, pair{r, w})
		total += w
		forgive := f.scaleM * f.scaleM / (f.scaleM*f.scaleM + d.Dot(d))
		sq += w * forgive * forgive * r * r
		sum += w * forgive * forgive
	}
	a.Overlap = near / max(within, 1)
	if sum > 0 {
		a.RMSMm = math.Sqrt(sq/sum) * 1000
	}
	sort.Slice(firm, func(i, j int) bool { return firm[i].r < firm[j].r })
	var run float64
	for _, p := range firm {
		if run += p.w; run >= total/2 {
			a.MedianMm = p.r * 1000
			break
		}
	}
	eq, _ := c.equations(f.pose, part, max(f.scaleM, .002))
	a.Slides = eq.stiffness() < leastStiff
	a.Scale, a.ScaleAgrees = c.freeScale(f, part, old)
	return nil
}

// freeScale solves for a growth about the centre beside the rigid motion, for all samples together
// and for the upper, middle and lower third by height alone.
func (c *cloud) freeScale(f fit, part []surface.Partner, old *surface.Side) (scale float64, agrees bool) {
	centre := f.pose.Apply(c.centre)
	lossM := max(.006, 2*f.scaleM)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range c.pos {
		y := f.pose.Apply(c.pos[i])[1]
		lo, hi = min(lo, y), max(hi, y)
	}
	var all equations
	var third [3]equations
	for i, q := range part {
		w := c.usable(i, f.pose, q)
		if w == 0 {
			continue
		}
		p := f.pose.Apply(c.pos[i])
		d := q.Pos.Sub(p)
		w /= 1 + d.Dot(d)/(lossM*lossM)
		r := row(p, q.Normal, centre, c.radiusM)
		all.add(r, d.Dot(q.Normal), w)
		third[min(2, int(3*(p[1]-lo)/(hi-lo+1e-9)))].add(r, d.Dot(q.Normal), w)
	}
	grow := func(e *equations) float64 {
		x, ok := e.solve(7)
		if !ok {
			return math.NaN()
		}
		return 1 + x[6]/c.radiusM
	}
	scale = grow(&all)
	if math.IsNaN(scale) {
		return 1, false
	}
	agrees = true
	for k := range third {
		agrees = agrees && math.Abs(grow(&third[k])-scale) < .002
	}
	return scale, agrees
}

// mirror places the mirror image of the new scan, left for right and front for back, and compares how
// well it fits.
func (a *Alignment) mirror(ctx context.Context, c *cloud, old *surface.Side, straight fit) error {
	var best *cloud
	start := fit{cost: 2}
	for _, axis := range []int{0, 2} {
		m := c.mirrored(straight.pose, axis).thin(1500)
		f, err := refine(ctx, m.thin(500), old, Identity(), .03, 12)
		if err != nil {
			return err
		}
		if f.cost < start.cost {
			best, start = m, f
		}
	}
	f, err := refine(ctx, best, old, start.pose, max(.006, start.scaleM), 12)
	if err != nil {
		return err
	}
	// A face's two sides differ by a millimetre or so, so the right one fits clearly better. A
	// whole body may differ more by posture than by its sides.
	least := .004
	if c.radiusM > .3 {
		least = .02
	}
	switch {
	case f.cost < .5*straight.cost && straight.cost-f.cost > least:
		a.Mirrored = "yes"
	case straight.cost < .5*f.cost && f.cost-straight.cost > least:
		a.Mirrored = "no"
	default:
		a.Mirrored = "unknown"
	}
	return nil
}

// mirrored returns the cloud as the pose places it, reflected through its centre along one axis.
func (c *cloud) mirrored(pose Pose, axis int) *cloud {
	m := &cloud{unlabelled: c.unlabelled}
	x := pose.Apply(c.centre)[axis]
	for i := range c.pos {
		p, n := pose.Apply(c.pos[i]), pose.Turn(c.normal[i])
		p[axis], n[axis] = 2*x-p[axis], -n[axis]
		m.add(p, n, c.weight[i], c.class[i])
	}
	m.measure()
	return m
}

// reasons lists what makes the placement untrustworthy.
func (a *Alignment) reasons() {
	if a.Overlap < leastOverlap {
		a.Why = append(a.Why, fmt.Sprintf("alignment: only %.0f %% of the new surface lies near the old one, at least %.0f %% are needed", 100*a.Overlap, 100*leastOverlap))
	}
	if a.MedianMm > worstMedianMm {
		a.Why = append(a.Why, fmt.Sprintf("alignment: the firm parts are %.1f mm apart, allowed are %.1f mm", a.MedianMm, worstMedianMm))
	}
	if a.Slides {
		a.Why = append(a.Why, "alignment: the shape can turn or slide on itself without changing any distance")
	}
	if a.Ambiguous {
		a.Why = append(a.Why, "alignment: two different placements fit equally well")
	}
	if a.Mirrored == "yes" {
		a.Why = append(a.Why, "alignment: the mirror image of the new scan fits better than the scan itself")
	}
}
