// Package sanity compares a new take with the last accepted one of the same subject, part and pose to
// find faults that neither shows alone: another unit, a mirror image, a decimated mesh, another person.
package sanity

import (
	"context"
	"fmt"
	"math"
	"slices"

	"mien/asset/check"
	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/asset/terms"
	"mien/diff/align"
	"mien/diff/surface"
)

// Limits. Common practice, no source, except where stated; those of the head's shape were set on
// invented people of the tuning family.
const (
	fewerTriangles = 0.5 // of the last take's, below which detail is lost
	otherScale     = 0.0045
	firmShare      = 0.8 // of the firm surface of face and skull lies within the distance that is judged
	strangerMm     = 1.3 // a distance that one person does not reach; two rigs differ by 0.85 mm RMS (Sci Rep 10:4443, 2020)
	doubtMm        = 0.7 // one person on one rig stays below 0.45, with other hair, beard or weight
	leastFirmCM2   = 40  // of firm skin seen on both, to judge a person by
)

// Against returns what speaks against taken being a sound take of the subject that last shows. Neither
// scan is changed. Codes: unit, scale, mirrored, decimated, other-person, no-match. The head's shape is
// judged on skin over bone (forehead, brows, nose, cheeks, ears), so that hair, beard and weight do not
// count; bodies are judged by their head where region labels show it.
//
// It returns an error for a mesh without surface and ctx's error when cancelled.
func Against(ctx context.Context, last, taken *scan.Scan) ([]check.Issue, error) {
	var out []check.Issue
	old, new := headOf(last.Mesh), headOf(taken.Mesh)
	oldSide, err := surface.NewSide(ctx, old)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", last.Name, err)
	}
	newSide, err := surface.NewSide(ctx, new)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", taken.Name, err)
	}
	a, err := align.Sides(ctx, oldSide, newSide, align.Options{})
	if err != nil {
		return nil, err
	}
	add := func(code string, sev check.Severity, got, allowed, message string) {
		out = append(out, check.Issue{Code: code, Severity: sev, Part: "mesh", Got: got, Allowed: allowed, Message: message})
	}
	if a.UnitRatio != 1 {
		add("unit", check.Refuse, fmt.Sprintf("%.3g times", 1/a.UnitRatio), "1 time",
			fmt.Sprintf("the scan is about %.4g times the size of the last one: its unit differs", 1/a.UnitRatio))
	} else if off := math.Abs(1/a.Scale - 1); a.ScaleAgrees && off > otherScale && len(a.Why) == 0 {
		add("scale", check.Warn, fmt.Sprintf("%+.2f %%", 100*(1/a.Scale-1)), fmt.Sprintf("%.2f %%", 100*otherScale),
			fmt.Sprintf("the scan as a whole is %.2f %% off the size of the last one: check the scale bar", 100*off))
	}
	if n, m := taken.Mesh, last.Mesh; float64(len(n.Tri)) < fewerTriangles*float64(len(m.Tri)) {
		add("decimated", check.Warn, fmt.Sprintf("%d triangles", len(n.Tri)), fmt.Sprintf("%.0f", fewerTriangles*float64(len(m.Tri))),
			fmt.Sprintf("the scan has %d triangles, the last one %d: fine detail is lost", len(n.Tri), len(m.Tri)))
	}
	if a.Mirrored == "yes" {
		add("mirrored", check.Refuse, "a mirror image", "the person", "the mirror image of the scan fits the last one better than the scan itself")
		return out, nil
	}
	mm, cm2, err := firmMm(ctx, a, oldSide, newSide)
	if err != nil {
		return nil, err
	}
	allowed := fmt.Sprintf("%.1f mm", strangerMm)
	switch {
	case cm2 < leastFirmCM2 && len(a.Why) > 0:
		add("no-match", check.Warn, a.Why[0], "", "the scan does not lie on the last one: "+a.Why[0])
	case cm2 < leastFirmCM2:
	case mm > strangerMm:
		add("other-person", check.Refuse, fmt.Sprintf("%.1f mm", mm), allowed,
			fmt.Sprintf("forehead, nose, cheeks and ears lie up to %.1f mm from the last scan's: this looks like another person", mm))
	case mm > doubtMm:
		add("other-person", check.Warn, fmt.Sprintf("%.1f mm", mm), allowed,
			fmt.Sprintf("forehead, nose, cheeks and ears lie up to %.1f mm from the last scan's: check that this is the same person", mm))
	}
	return out, nil
}

// firmMm is the distance that a share of firmShare of the head's firm skin keeps, and the area it was seen on. Without labels
// all skin counts.
func firmMm(ctx context.Context, a *align.Alignment, old, new *surface.Side) (mm, cm2 float64, err error) {
	moved := *new.Mesh
	moved.Pos = make([][3]float32, len(new.Mesh.Pos))
	for i := range moved.Pos {
		p := a.Pose.Apply(new.Mesh.At(uint32(i)).Scale(a.UnitRatio))
		moved.Pos[i] = [3]float32{float32(p[0]), float32(p[1]), float32(p[2])}
	}
	side, err := surface.NewSide(ctx, &moved)
	if err != nil {
		return 0, 0, err
	}
	f, err := surface.Measure(ctx, side, old, surface.Options{SpacingMm: 3, MaxPairMm: 30})
	if err != nil {
		return 0, 0, err
	}
	labelled := new.Mesh.Label != nil
	var d []float64
	for i, s := range f.State {
		skin := f.Class[i] == uint8(terms.Skin) || f.Class[i] == uint8(terms.ClassUnknown)
		if s != surface.Seen || !skin || labelled && !firm(terms.Region(f.Region[i])) {
			continue
		}
		d = append(d, math.Abs(float64(f.DistMm[i])))
		cm2 += float64(f.AreaM2[i]) * 1e4
	}
	if len(d) == 0 {
		return 0, 0, nil
	}
	slices.Sort(d)
	return d[int(firmShare*float64(len(d)-1))], cm2, nil
}

// firm reports whether bone or cartilage lies close under a region of the head.
func firm(r terms.Region) bool {
	switch r {
	case terms.Forehead, terms.BrowLeft, terms.BrowRight, terms.Nose, terms.CheekLeft, terms.CheekRight,
		terms.EarLeft, terms.EarRight, terms.EyeLeft, terms.EyeRight:
		return true
	}
	return false
}

// headOf returns the head of a labelled mesh as a mesh of its own, m itself when it shows none.
func headOf(m *mesh.Mesh) *mesh.Mesh {
	if m.Label == nil {
		return m
	}
	out := &mesh.Mesh{MaterialSet: m.MaterialSet}
	at := make([]int32, len(m.Pos))
	for i := range at {
		at[i] = -1
	}
	for t, tri := range m.Tri {
		r := terms.Region(m.LabelOf(t))
		if r == terms.NoRegion || r.Segment() != terms.Head {
			continue
		}
		var c [3]uint32
		for k, v := range tri {
			if at[v] < 0 {
				at[v] = int32(len(out.Pos))
				out.Pos = append(out.Pos, m.Pos[v])
				out.Label = append(out.Label, m.Label[v])
			}
			c[k] = uint32(at[v])
		}
		out.Tri = append(out.Tri, c)
		if m.Material != nil {
			out.Material = append(out.Material, m.Material[t])
		}
	}
	if len(out.Tri) == 0 {
		return m
	}
	return out
}
