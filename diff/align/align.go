// Package align finds the rigid motion that brings a new scan of a person into the frame of an old
// one, although much of the person may have changed in between, and says how far it is to be trusted.
package align

import (
	"context"
	"fmt"
	"math"

	"mien/asset/mesh"
	"mien/diff/surface"
)

// Options of [Rigid]. The zero value is fine.
type Options struct {
	Samples int // of the new surface for the last steps; default 3000
}

// Alignment is the motion of new points into the old frame and what is known about it.
type Alignment struct {
	Pose           Pose
	SameTopology   bool
	Correspondence bool    // equal vertex numbers gave the start and agree with the surface
	UnitRatio      float64 // p_old = Pose * (UnitRatio * p_new); 1 unless the sizes differ by a unit
	Scale          float64 // what the new scan would have to be multiplied by to fit best; not applied
	ScaleAgrees    bool    // firm groups (skull, hands, feet) each ask for the same scale within .2 %
	RMSMm          float64 // of the distances that the loss did not forgive
	MedianMm       float64 // weighted by anatomical firmness
	Overlap        float64 // share of the new surface with a partner within 15 mm facing the same way
	Converged      bool
	Slides         bool     // some motion changes no distance: a ball, a cylinder
	Mirrored       string   // no, yes, unknown
	Ambiguous      bool     // another, distinct placement fits as well
	Why            []string // why the placement is not to be trusted; empty when it is
}

// Rigid aligns new to old. Both are in metres, +Y up; new may be turned by any angle about the
// vertical, leaned by up to about 30 degrees, shifted by any amount, of another topology, cut
// elsewhere, and changed in places. Region labels and material classes are used where present: bone
// near the skin holds the frame, soft parts, hair and cloth hardly count. A difference of unit by a
// factor near 10, 25.4, 39.37, 100 or 1000 is undone first and reported.
//
// Wrong input is not an error: Why names what makes the placement untrustworthy. It returns
// [mien/asset/near.ErrNoSurface] for an empty mesh and ctx's error when cancelled. The answer is the
// same for any GOMAXPROCS.
func Rigid(ctx context.Context, old, new *mesh.Mesh, o Options) (*Alignment, error) {
	oldSide, err := surface.NewSide(ctx, old)
	if err != nil {
		return nil, fmt.Errorf("old: %w", err)
	}
	newSide, err := surface.NewSide(ctx, new)
	if err != nil {
		return nil, fmt.Errorf("new: %w", err)
	}
	return Sides(ctx, oldSide, newSide, o)
}

// Sides is [Rigid] on surfaces that are already indexed.
func Sides(ctx context.Context, old, new *surface.Side, o Options) (*Alignment, error) {
	if o.Samples <= 0 {
		o.Samples = 3000
	}
	a := &Alignment{UnitRatio: UnitRatio(old.Mesh, new.Mesh), SameTopology: SameTopology(old.Mesh, new.Mesh)}
	c, target := newCloud(new, o.Samples), newCloud(old, 1000)
	c.multiply(a.UnitRatio)

	best, rival, err := a.place(ctx, c, target, old, new)
	if err != nil {
		return nil, err
	}
	if best, err = refine(ctx, c, old, best.pose, max(best.scaleM, .002), 30); err != nil {
		return nil, err
	}
	a.Pose, a.Converged = best.pose, best.converged
	if err := a.judge(ctx, c, old, best); err != nil {
		return nil, err
	}
	if rival != nil && rival.cost < 1.1*best.cost+.002 {
		a.Ambiguous = true
	}
	if err := a.mirror(ctx, c, old, best); err != nil {
		return nil, err
	}
	a.reasons()
	return a, nil
}

// place finds the best start, and a distinct rival of similar cost if there is one.
func (a *Alignment) place(ctx context.Context, c, target *cloud, old, new *surface.Side) (best fit, rival *fit, err error) {
	wide := min(.05, .15*target.radiusM)
	mid := c.thin(900)
	if p, ok := correspondence(old.Mesh, new.Mesh); ok && a.UnitRatio == 1 {
		if best, err = refine(ctx, mid, old, p, .01, 12); err != nil {
			return best, nil, err
		}
		// Vertices that kept their numbers lie on the surface that the points find.
		if best.cost < .5 && !c.apart(best.pose, p, 10) {
			a.Correspondence = true
			return best, nil, nil
		}
	}
	for _, tilts := range [][]Pose{uprightTilts(c, target), allTilts()} {
		poses, err := starts(ctx, c, target, old, tilts)
		if err != nil {
			return best, nil, err
		}
		fits, err := refineAll(ctx, c, mid, old, poses, wide)
		if err != nil {
			return best, nil, err
		}
		if best.pose == (Pose{}) || fits[0].cost < best.cost {
			best, rival = fits[0], nil
			for k := range fits[1:] {
				if c.apart(fits[k+1].pose, best.pose, 8) {
					rival = &fits[k+1]
					break
				}
			}
		}
		if best.cost < .35 {
			break
		}
	}
	return best, rival, nil
}

// refineAll improves the most promising starts coarsely, then the best distinct ones well, and returns
// these, best first.
func refineAll(ctx context.Context, c, mid *cloud, old *surface.Side, poses []Pose, wideM float64) ([]fit, error) {
	few := c.thin(300)
	var coarse []fit
	for _, p := range poses[:min(6, len(poses))] {
		f, err := refine(ctx, few, old, p, wideM, 10)
		if err != nil {
			return nil, err
		}
		coarse = insert(coarse, f)
	}
	var out []fit
	for _, f := range coarse {
		fresh := true
		for _, g := range out {
			fresh = fresh && c.apart(f.pose, g.pose, 8)
		}
		if !fresh {
			continue
		}
		g, err := refine(ctx, mid, old, f.pose, max(.01, f.scaleM), 25)
		if err != nil {
			return nil, err
		}
		if out = insert(out, g); len(out) == 3 || out[0].cost < .2 && g.cost > 3*out[0].cost {
			break
		}
	}
	return out, nil
}

// insert keeps a list ascending by cost; equal costs keep their order.
func insert(list []fit, f fit) []fit {
	i := len(list)
	for i > 0 && list[i-1].cost > f.cost {
		i--
	}
	list = append(list, fit{})
	copy(list[i+1:], list[i:])
	list[i] = f
	return list
}

func (c *cloud) multiply(s float64) {
	if s == 1 {
		return
	}
	for i := range c.pos {
		c.pos[i] = c.pos[i].Scale(s)
	}
	c.centre, c.radiusM = c.centre.Scale(s), c.radiusM*s
}

// UnitRatio returns the factor between units that brings new to the size of old, 1 when the sizes
// differ by less than a unit would make them.
func UnitRatio(old, new *mesh.Mesh) float64 {
	size := func(m *mesh.Mesh) float64 {
		lo, hi, _ := m.Bounds()
		return hi.Sub(lo).Len()
	}
	a, b := size(old), size(new)
	if a == 0 || b == 0 {
		return 1
	}
	for _, u := range []float64{10, 25.4, 39.37, 100, 1000} {
		for _, f := range []float64{u, 1 / u} {
			if r := a / b / f; math.Abs(math.Log(r)) < math.Log(1.2) {
				return f
			}
		}
	}
	return 1
}
