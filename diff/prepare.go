package diff

import (
	"context"
	"fmt"
	"math"

	"mien/asset/body"
	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/diff/align"
	"mien/diff/label"
	"mien/diff/posture"
	"mien/diff/result"
	"mien/diff/surface"
)

// leastScale is the smallest difference of size that is called a fault of scale. Adults do not grow by
// this much, and no change of build is the same in skull, hands and feet.
const leastScale = 0.003

// align brings the new mesh into the old frame and gives both the region labels that can be had.
func (c *comparison) align(ctx context.Context) error {
	c.oldMesh = estimated(c.old.Mesh, &c.res.Old)
	newMesh := estimated(c.new.Mesh, &c.res.New)
	oldSide, err := surface.NewSide(ctx, c.oldMesh)
	if err != nil {
		return fmt.Errorf("%s: %w", c.old.Name, err)
	}
	newSide, err := surface.NewSide(ctx, newMesh)
	if err != nil {
		return fmt.Errorf("%s: %w", c.new.Name, err)
	}
	a, err := align.Sides(ctx, oldSide, newSide, align.Options{})
	if err != nil {
		return err
	}
	posed := *newMesh
	posed.Pos = make([][3]float32, len(newMesh.Pos))
	for i := range posed.Pos {
		p := a.Pose.Apply(newMesh.At(uint32(i)).Scale(a.UnitRatio))
		posed.Pos[i] = [3]float32{float32(p[0]), float32(p[1]), float32(p[2])}
	}
	c.posedMesh = &posed
	c.detail = &Detail{Alignment: a, Old: c.oldMesh, oldSide: oldSide}
	c.res.Alignment = describe(a)
	c.trusted = len(a.Why) == 0
	c.res.Reasons = append(c.res.Reasons, a.Why...)
	if a.UnitRatio != 1 {
		c.reason("unit: the new scan was multiplied by %g to bring it to the old one's size", a.UnitRatio)
	}
	if c.trusted && a.ScaleAgrees && math.Abs(a.Scale-1) > leastScale {
		c.scaled = true
		c.cause(result.CauseScale)
		c.reason("scale: the new scan is %.2f %% %s as a whole; check the scale bar of both sessions", 100*math.Abs(1/a.Scale-1), moreOrLess(1/a.Scale-1, "larger", "smaller"))
	}
	return c.shareLabels(ctx)
}

func moreOrLess(v float64, more, less string) string {
	if v > 0 {
		return more
	}
	return less
}

// estimated returns m with labels, estimated from its shape when it has none and the shape allows it.
func estimated(m *mesh.Mesh, s *result.Side) *mesh.Mesh {
	if m.Label != nil {
		return m
	}
	l, _, err := body.Estimate(m)
	if err != nil {
		return m
	}
	c := *m
	c.Label = l
	s.LabelsFrom = string(scan.LabelsEstimate)
	return &c
}

// shareLabels carries measured labels over to the scan that has none or only estimated ones.
func (c *comparison) shareLabels(ctx context.Context) error {
	if !c.trusted {
		return nil
	}
	measured := func(s *Scan) bool { return s.Mesh.Label != nil }
	carry := func(from, to *mesh.Mesh, s *result.Side) error {
		l, covered, err := label.Transfer(ctx, from, to, label.Options{})
		if err != nil || covered < .5 {
			return err
		}
		to.Label = l
		s.LabelsFrom = "other scan"
		return nil
	}
	switch {
	case measured(c.old) && !measured(c.new):
		return carry(c.oldMesh, c.posedMesh, &c.res.New)
	case measured(c.new) && !measured(c.old):
		m := *c.oldMesh
		c.oldMesh, c.detail.Old, c.detail.oldSide = &m, &m, nil
		return carry(c.posedMesh, c.oldMesh, &c.res.Old)
	}
	return nil
}

func describe(a *align.Alignment) *result.Alignment {
	out := &result.Alignment{
		Topology: "other", Method: "surface", Matrix: a.Pose.Matrix(), UnitRatio: a.UnitRatio, Scale: a.Scale,
		RMSMm: a.RMSMm, Overlap: a.Overlap, Converged: a.Converged, Freedom: "fixed", Mirrored: a.Mirrored,
	}
	if a.SameTopology {
		out.Topology = "same"
	}
	if a.Correspondence {
		out.Method = "correspondence"
	}
	if a.Slides {
		out.Freedom = "slides"
	}
	return out
}

// unpose takes the difference of posture out of the new mesh.
func (c *comparison) unpose(ctx context.Context) error {
	d := c.detail
	d.New = c.posedMesh
	if !c.trusted {
		return nil
	}
	if d.oldSide == nil {
		side, err := surface.NewSide(ctx, c.oldMesh)
		if err != nil {
			return err
		}
		d.oldSide = side
	}
	p, err := posture.Fit(ctx, c.oldMesh, c.posedMesh, posture.Options{OldIndex: d.oldSide.Index})
	if err != nil {
		return err
	}
	c.res.Posture = &result.Posture{Removed: p.Removed, Joints: p.Joints, BreathingMm: p.BreathingMm}
	if c.res.Posture.Joints == nil {
		c.res.Posture.Joints = []result.Joint{}
	}
	if !p.Removed {
		return nil
	}
	free := *c.posedMesh
	free.Pos = p.Positions
	d.New = &free
	if len(p.Joints) > 0 {
		c.cause(result.CausePosture)
	}
	if p.BreathingMm != 0 {
		c.cause(result.CauseBreathing)
	}
	return nil
}
