package diff

import (
	"context"
	"encoding/json"
	"fmt"

	"mien/asset/mesh"
	"mien/diff/change"
	"mien/diff/colour"
	"mien/diff/result"
)

// Engine names the state of the method. It changes whenever the same input may give other numbers.
const Engine = "1"

// Schema names the document that [Compare] returns.
const Schema = "mien.compare/1"

// Progress is told what a comparison is doing and how far it is, 0 to 1. nil is fine.
type Progress func(doing string, done float64)

func (p Progress) tell(doing string, done float64) {
	if p != nil {
		p(doing, done)
	}
}

// Compare measures what changed from old to new, two scans of one part of one person:
//
//	equal content -> alignment -> posture -> surface both ways -> colour -> measures -> findings
//
// Meshes are in metres, +Y up; region labels and material classes are used where present. Neither
// scan is changed. The result holds rounded numbers; detail the fields behind them, for pictures, and
// is nil when both scans have equal content.
//
// What is wrong with the scans, such as another person or no common surface, is no error but a
// cannot-tell with its reason. It returns an error for a mesh that has no surface or is not
// well-formed, and ctx's error when cancelled. Same inputs give the same bytes for any GOMAXPROCS.
func Compare(ctx context.Context, old, new *Scan, settings Settings, progress Progress) (*Result, *Detail, error) {
	c := &comparison{set: settings.Filled(), old: old, new: new, progress: progress}
	for _, s := range []*Scan{old, new} {
		if s.Mesh == nil {
			return nil, nil, fmt.Errorf("compare %s: no mesh", s.Name)
		}
		if err := s.Mesh.Check(); err != nil {
			return nil, nil, fmt.Errorf("compare %s: %w", s.Name, err)
		}
	}
	if err := c.open(); err != nil {
		return nil, nil, err
	}
	if sameContent(old, new) {
		c.equal()
		return c.res, nil, nil
	}
	for _, step := range []struct {
		doing string
		done  float64
		do    func(context.Context) error
	}{
		{"aligning", 0, c.align},
		{"taking posture out", .25, c.unpose},
		{"measuring shape", .45, c.shape},
		{"comparing colour", .65, c.colour},
		{"taking measures", .9, c.measures},
	} {
		progress.tell(step.doing, step.done)
		if err := step.do(ctx); err != nil {
			return nil, nil, fmt.Errorf("compare %s with %s: %s: %w", old.Name, new.Name, step.doing, err)
		}
	}
	c.findings()
	c.verdict()
	c.res.Conclusion = change.Conclusion(c.res, c.set.ToleranceDE00)
	round(c.res)
	if err := c.heat(ctx); err != nil {
		return nil, nil, err
	}
	progress.tell("done", 1)
	return c.res, c.detail, nil
}

// comparison carries one comparison from step to step.
type comparison struct {
	set      Settings
	old, new *Scan
	progress Progress

	res    *Result
	detail *Detail

	trusted    bool
	scaled     bool       // the new scan as a whole is of another size
	oldMesh    *mesh.Mesh // labelled as well as can be
	posedMesh  *mesh.Mesh // new in the old frame, posture as captured
	allowed    *allowance
	shapeSpots []shapeSpot // in the order of res.Spots
	colourOut  *colour.Output
}

// open starts the document.
func (c *comparison) open() error {
	set, err := json.Marshal(c.set)
	if err != nil {
		return err
	}
	c.res = &Result{
		Schema: Schema, Engine: Engine, Settings: set,
		Old: side(c.old), New: side(c.new),
		Layers:  result.Layers{Shape: result.NotCompared, Colour: result.NotCompared, Measures: result.NotCompared},
		Reasons: []string{}, Causes: []result.Cause{}, Spots: []result.Spot{},
		Measurements: []result.Measurement{}, Findings: []result.Finding{}, Pictures: []string{},
	}
	return nil
}

// equal fills in the document for two scans of the same content.
func (c *comparison) equal() {
	c.res.Verdict = result.Same
	c.res.Layers = result.Layers{Shape: result.Same, Colour: result.Same, Measures: result.Same}
	c.res.Reasons = append(c.res.Reasons, "both scans have the same content")
	c.res.Conclusion = "Both scans have the same content; nothing was left to measure."
	round(c.res)
	c.progress.tell("done", 1)
}

// side describes a scan for the document.
func side(s *Scan) result.Side {
	m := s.Mesh
	out := result.Side{
		Path: s.Name, Vertices: len(m.Pos), Triangles: len(m.Tri),
		AreaCM2: m.Area() * 1e4, LabelsFrom: string(s.Labels),
	}
	if !s.Hash.IsZero() {
		out.Hash = s.Hash.String()
	}
	if closed(m) {
		v := m.Volume() * 1e6
		out.VolumeCM3 = &v
	}
	return out
}

func (c *comparison) reason(format string, a ...any) {
	c.res.Reasons = append(c.res.Reasons, fmt.Sprintf(format, a...))
}

// cause notes a named difference of capture once.
func (c *comparison) cause(k result.Cause) {
	for _, have := range c.res.Causes {
		if have == k {
			return
		}
	}
	c.res.Causes = append(c.res.Causes, k)
}
