package align

import (
	"context"
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"mien/asset/mesh"
	"mien/diff/surface"
)

// yaws is how many turns about the vertical are tried.
const yaws = 24

// starts returns placements worth refining, best first: every yaw with the centres on each other,
// upright and with the long axes brought together, ranked by a truncated distance of a few hundred
// samples.
func starts(ctx context.Context, c, o *cloud, old *surface.Side, tilts []Pose) ([]Pose, error) {
	few := c.thin(300)
	reach := .12 * o.radiusM
	type start struct {
		pose Pose
		cost float64
	}
	var all []start
	for _, tilt := range tilts {
		for y := 0; y < yaws; y++ {
			turn := Rotation(mesh.Vec{0, 2 * math.Pi * float64(y) / yaws, 0}).After(tilt)
			turn.T = o.centre.Sub(turn.Turn(c.centre))
			part, err := partners(ctx, few, old, turn, reach)
			if err != nil {
				return nil, err
			}
			var sum float64
			for i, q := range part {
				if !q.Found || turn.Turn(few.normal[i]).Dot(q.Normal) < 0 {
					sum++
					continue
				}
				d := q.Pos.Sub(turn.Apply(few.pos[i]))
				sum += d.Dot(d) / (reach * reach)
			}
			all = append(all, start{turn, sum / float64(len(part))})
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].cost < all[j].cost })
	var out []Pose
	for _, s := range all {
		out = append(out, s.pose)
	}
	return out, nil
}

// uprightTilts returns no tilt and, for an elongated person, the one that brings the long axes together.
func uprightTilts(c, o *cloud) []Pose {
	out := []Pose{Identity()}
	a, longA := c.longAxis()
	b, longB := o.longAxis()
	if !longA || !longB {
		return out
	}
	if a.Dot(b) < 0 {
		a = a.Scale(-1)
	}
	axis := a.Cross(b)
	if s := axis.Len(); s > math.Sin(2*math.Pi/180) {
		out = append(out, Rotation(axis.Scale(math.Atan2(s, a.Dot(b))/s)))
	}
	return out
}

// allTilts returns leans of 15 and 30 degrees to eight sides.
func allTilts() []Pose {
	var out []Pose
	for _, deg := range []float64{15, 30} {
		for k := 0; k < 8; k++ {
			s, c := math.Sincos(2 * math.Pi * float64(k) / 8)
			out = append(out, Rotation(mesh.Vec{c, 0, s}.Scale(deg*math.Pi/180)))
		}
	}
	return out
}

// longAxis returns the direction of greatest extent, and whether it stands out.
func (c *cloud) longAxis() (mesh.Vec, bool) {
	m := mat.NewSymDense(3, nil)
	for _, p := range c.pos {
		d := p.Sub(c.centre)
		for i := 0; i < 3; i++ {
			for j := i; j < 3; j++ {
				m.SetSym(i, j, m.At(i, j)+d[i]*d[j])
			}
		}
	}
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		return mesh.Vec{}, false
	}
	var v mat.Dense
	e.VectorsTo(&v)
	val := e.Values(nil)
	return mesh.Vec{v.At(0, 2), v.At(1, 2), v.At(2, 2)}, val[2] > 3*val[1]
}

// apart reports whether two placements differ by more than mm at the cloud's root mean square radius.
func (c *cloud) apart(a, b Pose, mm float64) bool {
	var sum float64
	for k := 0; k < 3; k++ {
		var e mesh.Vec
		e[k] = c.radiusM
		d := a.Apply(c.centre.Add(e)).Sub(b.Apply(c.centre.Add(e)))
		sum = max(sum, d.Len())
		d = a.Apply(c.centre.Sub(e)).Sub(b.Apply(c.centre.Sub(e)))
		sum = max(sum, d.Len())
	}
	return sum*1000 > mm
}

// correspondence is the placement by equal vertex numbers, robust against changed areas. ok is false
// when the meshes are not of one topology.
func correspondence(old, new *mesh.Mesh) (Pose, bool) {
	if !SameTopology(old, new) {
		return Pose{}, false
	}
	step := max(1, len(old.Pos)/4000)
	var from, to []mesh.Vec
	var w, base []float64
	for i := 0; i < len(old.Pos); i += step {
		from, to = append(from, new.At(uint32(i))), append(to, old.At(uint32(i)))
		b := 1.0
		if old.Label != nil {
			b = anatomical(old.Label[i], 0)
		}
		w, base = append(w, b), append(base, b)
	}
	p := Identity()
	for k := 0; k < 12; k++ {
		var err error
		if p, err = rigid(from, to, w); err != nil {
			return p, false
		}
		scale := max(.003, .05*math.Pow(.6, float64(k)))
		for i := range w {
			d := to[i].Sub(p.Apply(from[i]))
			forgive := scale * scale / (scale*scale + d.Dot(d))
			w[i] = base[i] * forgive * forgive
		}
	}
	return p, true
}

// SameTopology reports whether two meshes have the same triangles on the same welded vertex numbers.
func SameTopology(a, b *mesh.Mesh) bool {
	if len(a.Pos) != len(b.Pos) || len(a.Tri) != len(b.Tri) {
		return false
	}
	for t := range a.Tri {
		if a.Tri[t] != b.Tri[t] {
			return false
		}
	}
	return true
}
