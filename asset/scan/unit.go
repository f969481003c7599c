package scan

import (
	"fmt"

	"mien/asset"
)

// UnitError says that a mesh is of no size that its part can have, in metres or in exactly one other
// unit, so that its unit must be given.
type UnitError struct {
	Name  string
	Part  asset.Part // "" when unknown
	Units float64    // the greatest extent in the file's numbers
	LowM  float64    // the part's plausible extent
	HighM float64
}

func (e *UnitError) Error() string {
	what := string(e.Part)
	if what == "" {
		what = "scan"
	}
	return fmt.Sprintf("%s is %s units in extent, a %s has %s to %s m: unit of %[1]s unknown", e.Name, size(e.Units), what, size(e.LowM), size(e.HighM))
}

// unit is a length that files are written in where they break their standard.
type unit struct {
	name   string
	metres float64
}

var units = []unit{{"cm", 0.01}, {"mm", 0.001}, {"in", 0.0254}, {"dm", 0.1}}

// extent is the range of a part's greatest extent, in metres. Body: stature 1.2 to 2.3 m and raised
// hands; head: 0.18 to 0.30 m and the neck; the rest common practice, no source.
var extents = map[asset.Part][2]float64{
	asset.PartBody: {1.2, 2.4}, asset.PartHead: {0.18, 0.5}, asset.PartTeeth: {0.03, 0.12},
	asset.PartHandLeft: {0.12, 0.3}, asset.PartHandRight: {0.12, 0.3},
	asset.PartFootLeft: {0.15, 0.45}, asset.PartFootRight: {0.15, 0.45},
	asset.PartShoeLeft: {0.15, 0.45}, asset.PartShoeRight: {0.15, 0.45},
}

// anyPart is the range for a part that is not known: from a set of teeth to a person.
var anyPart = [2]float64{0.03, 2.4}

// setUnit brings the mesh to metres: by the given factor, else as numbers of metres when that gives a
// plausible size, else in the one unit that does. stated says that the format's unit is the metre;
// without that every choice is noted.
func (s *Scan) setUnit(metresPerUnit float64, stated bool) error {
	s.MetresPerUnit = 1
	if metresPerUnit > 0 {
		s.scale(metresPerUnit)
		if metresPerUnit != 1 {
			s.UnitNote = fmt.Sprintf("unit given: %g m", metresPerUnit)
		}
		return nil
	}
	lo, hi := Bounds(s.Mesh)
	d := hi.Sub(lo)
	span, known := extents[s.Part]
	if !known {
		span = anyPart
	}
	// A wide floor outgrows the person on it: then the height speaks.
	plausible := func(f float64) bool {
		return within(f*max(d[0], d[1], d[2]), span) || within(f*d[1], span)
	}
	extent := max(d[0], d[1], d[2])
	silent := ""
	if !stated {
		silent = ", the file states no unit"
	}
	if plausible(1) {
		if !stated {
			s.UnitNote = fmt.Sprintf("taken as m: %s m in extent%s", size(extent), silent)
		}
		return nil
	}
	// Parts of unknown name are tried as the two most frequent ones.
	fits := plausible
	if !known {
		fits = func(f float64) bool {
			return within(f*extent, extents[asset.PartBody]) || within(f*extent, extents[asset.PartHead])
		}
	}
	var found []unit
	for _, u := range units {
		if fits(u.metres) {
			found = append(found, u)
		}
	}
	if len(found) == 1 {
		s.scale(found[0].metres)
		s.UnitNote = fmt.Sprintf("taken as %s: %s units would be %s m%s", found[0].name, size(extent), size(extent*found[0].metres), silent)
		return nil
	}
	// A piece of the part, or more than the part, in metres as the format says.
	if stated && len(found) == 0 && extent >= span[0]/3 && extent <= span[1]*1.25 {
		s.UnitNote = fmt.Sprintf("%s m in extent, expected %s to %s m", size(extent), size(span[0]), size(span[1]))
		return nil
	}
	return &UnitError{Name: s.Name, Part: s.Part, Units: extent, LowM: span[0], HighM: span[1]}
}

func within(x float64, span [2]float64) bool { return x >= span[0] && x <= span[1] }

func (s *Scan) scale(f float64) {
	if f == 1 {
		return
	}
	s.MetresPerUnit = f
	s.Mesh.Transform([16]float64{f, 0, 0, 0, 0, f, 0, 0, 0, 0, f, 0, 0, 0, 0, 1})
}

// size writes a length with three significant digits.
func size(x float64) string { return fmt.Sprintf("%.3g", x) }
