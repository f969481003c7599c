package diff

import (
	"context"

	"mien/asset/mesh"
	"mien/diff/align"
	"mien/diff/colour"
	"mien/diff/surface"
)

// Detail is what a comparison measured place by place, for pictures and further work. Everything lies
// in the old scan's frame. Heat has one entry a position and is NaN where the other scan does not show
// the surface.
type Detail struct {
	Alignment *align.Alignment
	Old       *mesh.Mesh // with the region labels that were used
	New       *mesh.Mesh // in the old frame, posture taken out, with region labels

	NewToOld, OldToNew *surface.Field // shape; nil when the placement is not to be trusted
	SmoothNewMm        []float32      // signed distance after smoothing, one a sample of NewToOld
	SmoothOldMm        []float32      // the same of OldToNew
	SpotOfNew          []int32        // index into Result.Spots by sample of NewToOld, -1 for none
	SpotOfOld          []int32

	HeatNewMm, HeatOldMm     []float32 // smoothed signed distance by position of New and Old
	HeatNewDE00, HeatOldDE00 []float32 // colour residual by position, nil when colour was not compared

	Colour *colour.Output // spots in Result.Spots follow those of shape; nil when not compared

	oldSide, newSide *surface.Side
}

// ColourSpot returns the index in Result.Spots of colour spot k, given the count of shape spots.
func ColourSpot(shapeSpots, k int) int { return shapeSpots + k }

// heat spreads the fields to the positions of both meshes.
func (c *comparison) heat(ctx context.Context) (err error) {
	d := c.detail
	if d.NewToOld == nil {
		return nil
	}
	if d.HeatNewMm, err = d.NewToOld.ToVertices(ctx, d.SmoothNewMm, d.NewToOld.SeenMask()); err != nil {
		return err
	}
	if d.HeatOldMm, err = d.OldToNew.ToVertices(ctx, d.SmoothOldMm, d.OldToNew.SeenMask()); err != nil {
		return err
	}
	if d.Colour == nil || d.Colour.NewToOld == nil {
		return nil
	}
	n, o := d.Colour.NewToOld, d.Colour.OldToNew
	if d.HeatNewDE00, err = n.Field.ToVertices(ctx, n.DE00, n.Compared); err != nil {
		return err
	}
	d.HeatOldDE00, err = o.Field.ToVertices(ctx, o.DE00, o.Compared)
	return err
}
