package loop

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"strings"

	"mien/asset/gltf"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/cmd/mien/internal/picture"
	"mien/cmd/mien/internal/ui"
	"mien/diff"
	"mien/diff/result"
)

// documentName is the comparison's JSON document inside a result folder.
const documentName = "compare.json"

// writeComparison writes a comparison into folder dir: the document, an overview, one sheet of
// evidence for each finding, and the new scan as GLB coloured by its distance to the old surface. It
// fills in the result's list of pictures.
func writeComparison(ctx context.Context, dir string, older, newer *diff.Scan, r *Result, d *diff.Detail) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	r.Pictures = []string{}
	if d != nil && d.NewToOld != nil {
		if err := drawAll(ctx, dir, older, newer, r, d); err != nil {
			return err
		}
		if err := writeHeatGLB(filepath.Join(dir, "heat.glb"), d, r); err != nil {
			return err
		}
	}
	var b bytes.Buffer
	if err := ui.JSON(&b, r); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, documentName), b.Bytes(), 0o600)
}

func drawAll(ctx context.Context, dir string, older, newer *diff.Scan, r *Result, d *diff.Detail) error {
	before, err := picture.NewRenderer(picture.Scene{Mesh: d.Old, BaseColor: older.BaseColor, Even: true})
	if err != nil {
		return err
	}
	after, err := picture.NewRenderer(picture.Scene{Mesh: d.New, BaseColor: newer.BaseColor, Even: true})
	if err != nil {
		return err
	}
	shape, err := after.Measured(d.HeatNewMm, nil, shapeLimit(r))
	if err != nil {
		return err
	}
	im, err := picture.Overview{Before: before, After: after, Change: shape, Unit: "mm",
		BeforeNote: sideNote(r.Old), AfterNote: sideNote(r.New), Caption: r.Conclusion}.Draw(ctx, 0)
	if err != nil {
		return err
	}
	if err := save(dir, "overview.png", im, r); err != nil {
		return err
	}
	spots := map[string]result.Spot{}
	for _, s := range r.Spots {
		spots[s.ID] = s
	}
	for _, f := range r.Findings {
		s, ok := mainSpot(f, spots)
		if !ok {
			s, ok = placeOf(f, d.New)
		}
		if !ok {
			continue
		}
		sheet := picture.Sheet{Before: before, After: after, BeforeNote: sideNote(r.Old), AfterNote: sideNote(r.New),
			Centre: mesh.Vec(s.CentroidM), Bounds: [2]mesh.Vec{mesh.Vec(s.BoundsM[0]), mesh.Vec(s.BoundsM[1])},
			Caption: fmt.Sprintf("%s %s, %s, %.1f cm2", f.Kind, f.Action, f.Region, f.AreaCM2), Detail: strings.Join(f.Because, "; ")}
		if s.Layer == result.Colour && d.Colour != nil && d.Colour.NewToOld != nil {
			sheet.Unit = "dE00"
			sheet.Change, err = measuredColour(before, after, d, f)
		} else {
			sheet.Unit = "mm"
			sheet.Change, err = after.Measured(d.HeatNewMm, nil, 0)
		}
		if err != nil {
			return err
		}
		im, err := picture.Evidence(ctx, sheet, 0)
		if err != nil {
			return err
		}
		if err := save(dir, "finding-"+f.ID+".png", im, r); err != nil {
			return err
		}
	}
	return nil
}

// measuredColour shows the colour difference on the surface that has the mark: the old one for what
// was removed.
func measuredColour(before, after *picture.Renderer, d *diff.Detail, f Finding) (*picture.Renderer, error) {
	side, on := d.Colour.NewToOld, after
	if f.Action == "removed" {
		side, on = d.Colour.OldToNew, before
	}
	value := make([]float32, len(side.DE00))
	spacing := 0.0
	for i, v := range side.DE00 {
		value[i] = v
		if !side.Compared[i] {
			value[i] = float32(math.NaN())
		}
		spacing += math.Sqrt(float64(side.Field.AreaM2[i]))
	}
	spacing /= float64(max(1, len(value)))
	return on.Measured(nil, picture.NewPoints(side.Field.Pos, side.Field.Normal, value, spacing), 0)
}

// mainSpot returns the largest spot of a finding, colour before shape where both are there.
func mainSpot(f Finding, spots map[string]result.Spot) (best result.Spot, ok bool) {
	for _, id := range f.Spots {
		s, here := spots[id]
		if !here {
			continue
		}
		if !ok || s.Layer == best.Layer && s.AreaCM2 > best.AreaCM2 || s.Layer == result.Colour && best.Layer != result.Colour {
			best, ok = s, true
		}
	}
	return best, ok
}

// placeOf stands for the spot of a finding that was made without one, such as hair where skin was: the
// finding's region on m.
func placeOf(f Finding, m *mesh.Mesh) (s result.Spot, ok bool) {
	region, err := terms.ParseRegion(f.Region)
	if err != nil || m.Label == nil {
		return s, false
	}
	lo, hi := mesh.Vec{math.Inf(1), math.Inf(1), math.Inf(1)}, mesh.Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for i, r := range m.Label {
		if r != uint8(region) {
			continue
		}
		ok = true
		p := m.At(uint32(i))
		for k := range p {
			lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
		}
	}
	s.Layer, s.CentroidM, s.BoundsM = result.Shape, lo.Add(hi).Scale(.5), [2][3]float64{lo, hi}
	return s, ok
}

// shapeLimit returns a calm end value of the heat in mm: at least five times what counts.
func shapeLimit(r *Result) float64 {
	limit := 5.0
	for _, s := range r.Spots {
		if s.Layer == result.Shape {
			limit = max(limit, math.Abs(s.Peak))
		}
	}
	return picture.NiceLimit(min(limit, 30))
}

func sideNote(s result.Side) string {
	name := filepath.Base(s.Path)
	if len(name) > 34 {
		name = name[:33] + "…"
	}
	return name
}

func save(dir, name string, im *image.RGBA, r *Result) error {
	var b bytes.Buffer
	if err := picture.WritePNG(&b, im, 0); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o600); err != nil {
		return err
	}
	r.Pictures = append(r.Pictures, name)
	return nil
}

// writeHeatGLB writes the new scan in the old frame, coloured by its signed distance.
func writeHeatGLB(file string, d *diff.Detail, r *Result) error {
	m := *d.New
	m.UV, m.TriUV = nil, nil
	var b bytes.Buffer
	if err := gltf.Encode(&b, &m, gltf.Options{Name: "heat", Color: picture.VertexColors(d.HeatNewMm, shapeLimit(r))}); err != nil {
		return err
	}
	return os.WriteFile(file, b.Bytes(), 0o600)
}
