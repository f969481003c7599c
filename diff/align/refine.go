package align

import (
	"context"
	"math"
	"sort"

	"mien/asset/mesh"
	"mien/diff/surface"
)

const facing = 0.5 // cosine of the widest angle between partners' normals, 60 degrees

// fit is one placement of the cloud with what it costs.
type fit struct {
	pose      Pose
	scaleM    float64 // scale of the loss at the end, metres
	cost      float64 // 0 nothing off, 1 everything off by more than costM
	converged bool
}

// costM is the distance at which a sample counts as wholly off when placements are compared.
const costM = 0.004

// refine moves the cloud onto the surface: point-to-plane steps under a loss that forgives what is far
// off, first mildly and then strictly, so that neither a bad start nor a changed area decides. The
// loss's scale ends at three robust standard deviations of the anatomically weighted distance, within
// .9 to 4 mm.
//
// Source: Chen and Medioni 1992 (point to plane); Zhou, Park, Koltun 2016, Fast global registration
// and Yang et al. 2020, Graduated non-convexity (the loss and its schedule; from memory).
func refine(ctx context.Context, c *cloud, old *surface.Side, start Pose, wideM float64, steps int) (fit, error) {
	f := fit{pose: start, scaleM: wideM}
	calm := 0
	for k := 0; k < steps; k++ {
		part, err := partners(ctx, c, old, f.pose, max(2.5*f.scaleM, .02))
		if err != nil {
			return f, err
		}
		eq, spreadM := c.equations(f.pose, part, f.scaleM)
		x, ok := eq.solve(6)
		if !ok {
			break
		}
		step := Rotation(mesh.Vec{x[0], x[1], x[2]}.Scale(1 / c.radiusM))
		step.T = mesh.Vec{x[3], x[4], x[5]}
		f.pose = step.about(f.pose.Apply(c.centre)).After(f.pose).orthonormal()

		floor := min(.004, max(.0009, 3*1.4826*spreadM))
		narrow := f.scaleM > floor*1.001
		f.scaleM = max(floor, f.scaleM*.7)
		var move float64
		for _, v := range x[:6] {
			move += v * v
		}
		if math.Sqrt(move) < 5e-6 && !narrow {
			if calm++; calm == 2 {
				f.converged = true
				break
			}
		} else {
			calm = 0
		}
	}
	part, err := partners(ctx, c, old, f.pose, max(2.5*f.scaleM, .02))
	if err != nil {
		return f, err
	}
	f.cost = c.cost(f.pose, part)
	return f, nil
}

func partners(ctx context.Context, c *cloud, old *surface.Side, p Pose, withinM float64) ([]surface.Partner, error) {
	return old.Partners(ctx, len(c.pos), func(i int) mesh.Vec { return p.Apply(c.pos[i]) }, withinM)
}

// usable returns the anatomical weight of sample i with its partner, 0 when they do not belong together.
func (c *cloud) usable(i int, pose Pose, q surface.Partner) float64 {
	if !q.Found || q.Rim || pose.Turn(c.normal[i]).Dot(q.Normal) < facing {
		return 0
	}
	w := c.weight[i]
	if c.unlabelled && q.Region != 0 {
		w = anatomical(q.Region, c.class[i])
	}
	if int(q.Class) < len(classWeight) {
		w = min(w, classWeight[q.Class])
	}
	return w
}

// equations gathers the normal equations at a pose, and the weighted median of the distance, metres.
func (c *cloud) equations(pose Pose, part []surface.Partner, scaleM float64) (eq equations, spreadM float64) {
	centre := pose.Apply(c.centre)
	type pair struct{ r, w float64 }
	var all []pair
	var sum float64
	for i, q := range part {
		w := c.usable(i, pose, q)
		if w == 0 {
			continue
		}
		p := pose.Apply(c.pos[i])
		d := q.Pos.Sub(p)
		r := d.Dot(q.Normal)
		all = append(all, pair{math.Abs(r), w})
		sum += w
		forgive := scaleM * scaleM / (scaleM*scaleM + d.Dot(d))
		eq.add(row(p, q.Normal, centre, c.radiusM), r, w*forgive*forgive)
	}
	sort.Slice(all, func(i, j int) bool { return all[i].r < all[j].r })
	var run float64
	for _, a := range all {
		if run += a.w; run >= sum/2 {
			return eq, a.r
		}
	}
	return eq, scaleM
}

// cost is the weighted mean of min(d, costM)^2 over costM^2; samples on the rim are left out.
func (c *cloud) cost(pose Pose, part []surface.Partner) float64 {
	var sum, total float64
	for i, q := range part {
		if q.Found && q.Rim {
			continue
		}
		total += c.weight[i]
		u := 1.0
		if w := c.usable(i, pose, q); w > 0 {
			d := q.Pos.Sub(pose.Apply(c.pos[i]))
			u = min(1, d.Dot(d)/(costM*costM))
		}
		sum += c.weight[i] * u
	}
	if total == 0 {
		return 1
	}
	return sum / total
}
