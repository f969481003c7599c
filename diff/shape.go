package diff

import (
	"context"
	"math"

	"mien/asset/mesh"
	"mien/diff/align"
	"mien/diff/result"
	"mien/diff/surface"
)

const (
	bodyMm      = 4   // spacing of samples on a body
	headMm      = 2   // on a head, hand or foot
	smallM2     = 0.5 // surface up to this area counts as a head, hand or foot
	markSigmas  = 3   // standard deviations above which a sample may belong to a spot
	bridgeShare = .6  // of the least change: what joins two parts of one spot
	worstMm     = 4   // a detection limit above this leaves small changes undecided
)

// shapeSpot is a spot with where it was found.
type shapeSpot = surface.Spot

// shape measures the distance both ways and joins what exceeds tolerance and noise into spots.
func (c *comparison) shape(ctx context.Context) (err error) {
	d := c.detail
	if d.newSide, err = surface.NewSide(ctx, d.New); err != nil {
		return err
	}
	if d.oldSide == nil {
		if d.oldSide, err = surface.NewSide(ctx, d.Old); err != nil {
			return err
		}
	}
	o := surface.Options{SpacingMm: c.spacing(), MaxPairMm: c.set.MaxPairMm, MaxFaceDegrees: c.set.MaxFaceDegrees}
	if d.NewToOld, err = surface.Measure(ctx, d.newSide, d.oldSide, o); err != nil {
		return err
	}
	o.FromIsOld = true
	if d.OldToNew, err = surface.Measure(ctx, d.oldSide, d.newSide, o); err != nil {
		return err
	}
	layer := &result.ShapeLayer{ToleranceMm: c.set.ToleranceMm, FamilyLevel: c.set.FamilyLevel, NoiseSource: "residual"}
	c.res.Shape = layer
	layer.NewToOld, _ = d.NewToOld.Stats()
	layer.OldToNew, _ = d.OldToNew.Stats()
	layer.UncoveredCM2 = (d.NewToOld.UncoveredM2() + d.OldToNew.UncoveredM2()) * 1e4
	if c.res.Alignment.Topology == "same" && c.trusted {
		v := slideMm(d.Old, d.New)
		layer.SlideMm = &v
	}

	c.allowed = c.allow()
	grown, limitNew, err := c.direction(ctx, d.NewToOld, true)
	if err != nil {
		return err
	}
	shrunk, limitOld, err := c.direction(ctx, d.OldToNew, false)
	if err != nil {
		return err
	}
	layer.DetectionLimitMm = max(limitNew, limitOld)
	if c.set.NoiseMm > 0 {
		layer.NoiseSource = c.set.NoiseFrom
	}
	if !c.trusted {
		c.res.Layers.Shape = result.CannotTell
		return nil
	}
	if c.scaled {
		c.res.Layers.Shape = result.CannotTell
		return nil
	}
	c.shapeSpots = append(grown, shrunk...)
	c.keepShape()
	return nil
}

func (c *comparison) spacing() float64 {
	if c.set.SampleMm > 0 {
		return c.set.SampleMm
	}
	if c.detail.newSide.AreaM2() < smallM2 {
		return headMm
	}
	return bodyMm
}

// direction smooths one field, estimates its noise and returns the spots that belong to it: what grew
// is measured on the new surface, what shrank on the old one. limit is the median least distance that
// counts.
func (c *comparison) direction(ctx context.Context, f *surface.Field, onNew bool) (spots []shapeSpot, limit float64, err error) {
	d := c.detail
	seen := f.SeenMask()
	near, err := f.Neighbours(ctx, max(c.set.SmoothMm, 1.5*f.SpacingMm))
	if err != nil {
		return nil, 0, err
	}
	smooth, err := f.Smooth(ctx, near, max(c.set.SmoothMm, 1.5*f.SpacingMm), f.DistMm, seen)
	if err != nil {
		return nil, 0, err
	}
	noise, err := f.Noise(ctx, smooth, seen, c.set.SmoothMm)
	if err != nil {
		return nil, 0, err
	}
	if c.set.NoiseMm > 0 { // two scans of this noise, already smooth over the radius
		noise.SigmaMm = c.set.NoiseMm * math.Sqrt2
		for r := range noise.RegionMm {
			noise.RegionMm[r] = noise.SigmaMm
		}
	}
	if onNew {
		d.SmoothNewMm = smooth
	} else {
		d.SmoothOldMm = smooth
	}
	mark, bridge := make([]bool, f.Len()), make([]bool, f.Len())
	for i := range mark {
		v := float64(smooth[i])
		if !seen[i] || onNew != (v > 0) {
			continue
		}
		least := max(c.limitAt(f, i, noise), c.allowed.at(f, i, onNew))
		mark[i] = math.Abs(v) > least
		bridge[i] = math.Abs(v) > bridgeShare*least
	}
	limit = max(c.set.ToleranceMm, markSigmas*noise.SigmaMm)
	all, err := surface.Spots(ctx, f, mark, smooth, f.DistMm, surface.SpotOptions{
		Layer: result.Shape, MinCM2: c.set.MinSpotCM2, Bridge: bridge,
	})
	if err != nil {
		return nil, 0, err
	}
	family := surface.NewFamily(c.detail.newSide.AreaM2(), noise.WidthMm, max(limit/max(noise.SigmaMm, 1e-6), markSigmas), c.set.FamilyLevel)
	for _, s := range all {
		if s.AreaCM2 >= family.AreaCM2 || math.Abs(s.Peak) >= family.PeakSigma*noise.SigmaMm {
			s.OnNew = onNew
			spots = append(spots, s)
		}
	}
	return spots, limit, nil
}

// limitAt is the least distance that counts at a sample: tolerance or noise, more on what is worn.
func (c *comparison) limitAt(f *surface.Field, i int, noise surface.Noise) float64 {
	least := c.set.ToleranceMm * classTolerance(f.Class[i]) * c.stageFactor()
	return max(least, markSigmas*noise.RegionMm[f.Region[i]])
}

// keepShape numbers the spots into the document and marks their samples.
func (c *comparison) keepShape() {
	d := c.detail
	d.SpotOfNew, d.SpotOfOld = noSpots(d.NewToOld.Len()), noSpots(d.OldToNew.Len())
	sortSpots(c.shapeSpots)
	layer := c.res.Shape
	for k := range c.shapeSpots {
		s := &c.shapeSpots[k]
		s.ID = spotID(len(c.res.Spots))
		of := d.SpotOfOld
		if s.OnNew {
			of = d.SpotOfNew
		}
		for _, i := range s.Samples {
			of[i] = int32(len(c.res.Spots))
		}
		layer.ChangedAreaCM2 += s.AreaCM2
		c.res.Spots = append(c.res.Spots, s.Spot)
	}
	switch {
	case len(c.shapeSpots) > 0:
		c.res.Layers.Shape = result.Changed
	case layer.DetectionLimitMm > worstMm:
		c.res.Layers.Shape = result.CannotTell
		c.reason("shape: the scans scatter so much that only changes above %.1f mm would show", layer.DetectionLimitMm)
	default:
		c.res.Layers.Shape = result.Same
	}
}

func noSpots(n int) []int32 {
	out := make([]int32, n)
	for i := range out {
		out[i] = -1
	}
	return out
}

// slideMm is the 95th percentile of how far equal vertex numbers moved along the surface.
func slideMm(old, new *mesh.Mesh) float64 {
	if !align.SameTopology(old, new) {
		return 0
	}
	normal := old.VertexNormals()
	v := make([]float64, len(old.Pos))
	for i := range v {
		d := new.At(uint32(i)).Sub(old.At(uint32(i)))
		v[i] = d.Sub(normal[i].Scale(d.Dot(normal[i]))).Len() * 1000
	}
	return percentile(v, .95)
}
