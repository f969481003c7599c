package check

import (
	"fmt"
	"math"
	"sort"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/asset/terms"
)

// Plausible heights in metres (trade facts: stature 1.2 to 2.3 m, head height .18 to .30 m; with
// shoes and hair, and with the neck).
var heights = map[asset.Part][2]float64{
	asset.PartBody: {1.2, 2.4},
	asset.PartHead: {0.16, 0.55},
}

// Fewest triangles with which a scan still shows a likeness. Common practice, no source.
var fewest = map[asset.Part]int{asset.PartBody: 10000, asset.PartHead: 5000}

// viewer is one take under inspection, with what several checks use.
type viewer struct {
	s *scan.Scan
	m *mesh.Mesh

	lo, hi mesh.Vec // of what is no stand
	area   []float64
	stands []bool  // by position: used by a stand
	total  float64 // area of the person
	edge   float64 // median edge length
	list   []mesh.Edge
	piece  []int
	count  int
}

func (v *viewer) person(t int) bool { return terms.Class(v.m.ClassOf(t)) != terms.Stand }

func (v *viewer) measure() {
	v.lo = mesh.Vec{math.Inf(1), math.Inf(1), math.Inf(1)}
	v.hi = mesh.Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	v.area = make([]float64, len(v.m.Tri))
	v.stands = make([]bool, len(v.m.Pos))
	for t, tri := range v.m.Tri {
		v.area[t] = v.m.TriangleArea(t)
		if !v.person(t) {
			for _, i := range tri {
				v.stands[i] = true
			}
		} else {
			v.total += v.area[t]
			for _, i := range tri {
				p := v.m.At(i)
				for k := range p {
					v.lo[k], v.hi[k] = min(v.lo[k], p[k]), max(v.hi[k], p[k])
				}
			}
		}
	}
	v.list = v.m.Edges()
	l := make([]float64, len(v.list))
	for i, e := range v.list {
		l[i] = v.m.At(e.A).Sub(v.m.At(e.B)).Len()
	}
	sort.Float64s(l)
	if len(l) > 0 {
		v.edge = l[len(l)/2]
	}
	v.piece, v.count = v.m.Components()
}

// Ratios between the units that deliveries come in, and what to call them.
var ratios = []struct {
	name   string
	factor float64
}{{"centimetres", 100}, {"millimetres", 1000}, {"inches", 39.37}, {"decimetres", 10}, {"tens of metres", 0.1}}

func (v *viewer) size() (out []Issue) {
	if v.s.UnitNote != "" {
		out = append(out, issue("unit-guessed", Note, "mesh", fmt.Sprintf("%g m a unit", v.s.MetresPerUnit), "a stated unit", "unit: %s", v.s.UnitNote))
	}
	want, ok := heights[v.s.Part]
	if ok {
		d := v.hi.Sub(v.lo)
		tall := max(d[0], d[1], d[2])
		if tall < want[0] || tall > want[1] {
			allowed := fmt.Sprintf("%.2f to %.2f m", want[0], want[1])
			guess := ""
			for _, r := range ratios {
				if h := tall / r.factor; h >= want[0] && h <= want[1] {
					guess = ", as if coordinates were in " + r.name
					break
				}
			}
			out = append(out, issue("unit", Refuse, "mesh", fmt.Sprintf("%.3g m", tall), allowed,
				"%s is %.3g m at its longest, allowed %s%s", v.s.Part, tall, allowed, guess))
		}
	}
	if n := fewest[v.s.Part]; len(v.m.Tri) < n {
		out = append(out, issue("few-triangles", Warn, "mesh", fmt.Sprint(len(v.m.Tri)), fmt.Sprintf("at least %d", n),
			"%s has %d triangles, allowed at least %d: decimated?", v.s.Part, len(v.m.Tri), n))
	}
	return out
}

func (v *viewer) axes() []Issue {
	if v.s.Part != asset.PartBody {
		return nil
	}
	d := v.hi.Sub(v.lo)
	for k, name := range [3]string{0: "+X", 2: "+Z"} {
		if k != 1 && d[k] > 1.15*d[1] {
			return []Issue{issue("axes", Refuse, "mesh", name+" is up", "+Y is up", "body is longest along %s (%.2f m against %.2f m along +Y): allowed is +Y up", name[1:], d[k], d[1])}
		}
	}
	if back, ok := v.toesBehind(); ok && back {
		return []Issue{issue("facing", Warn, "mesh", "toes point to -Z", "toes point to +Z", "body faces -Z, allowed is +Z")}
	}
	return nil
}

// toesBehind compares how far the feet reach in front of the ankles and behind them. ok is false where
// the person stands turned by more than some 45 degrees or the difference is small.
func (v *viewer) toesBehind() (back, ok bool) {
	h := v.hi[1] - v.lo[1]
	var ankle [3]float64
	lo, hi := math.Inf(1), math.Inf(-1)
	left, right := math.Inf(1), math.Inf(-1)
	for t := range v.m.Tri {
		if !v.person(t) {
			continue
		}
		p := v.m.At(v.m.Tri[t][0])
		y := (p[1] - v.lo[1]) / h
		switch {
		case y > 0.055 && y < 0.09:
			ankle[0] += v.area[t]
			ankle[2] += v.area[t] * p[2]
		case y < 0.03:
			lo, hi = min(lo, p[2]), max(hi, p[2])
			left, right = min(left, p[0]), max(right, p[0])
		}
	}
	if ankle[0] == 0 || lo > hi {
		return false, false
	}
	z := ankle[2] / ankle[0]
	fore, aft := hi-z, z-lo
	if math.Abs(fore-aft) < 0.04 {
		return false, false
	}
	return aft > fore, true
}
