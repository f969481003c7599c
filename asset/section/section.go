// Package section cuts a mesh with a plane and measures the closed curves of the cut: contour length,
// tape length (convex hull), area and centroid.
package section

import (
	"math"
	"sort"

	"mien/asset/mesh"
)

// Plane is an oriented plane with a basis of its own: U, V, Normal are orthonormal and right-handed.
type Plane struct {
	Origin, Normal, U, V mesh.Vec
}

// NewPlane returns the plane through origin across normal (any length but zero).
func NewPlane(origin, normal mesh.Vec) Plane {
	n := normal.Unit()
	ref := mesh.Vec{0, 0, 1}
	if math.Abs(n[2]) > 0.9 {
		ref = mesh.Vec{1, 0, 0}
	}
	u := ref.Cross(n).Unit()
	return Plane{Origin: origin, Normal: n, U: u, V: n.Cross(u)}
}

// Flat returns p's coordinates in the plane, metres.
func (pl Plane) Flat(p mesh.Vec) [2]float64 {
	d := p.Sub(pl.Origin)
	return [2]float64{d.Dot(pl.U), d.Dot(pl.V)}
}

// Lift returns the point of the plane with coordinates q.
func (pl Plane) Lift(q [2]float64) mesh.Vec {
	return pl.Origin.Add(pl.U.Scale(q[0])).Add(pl.V.Scale(q[1]))
}

// Loop is one connected curve of a cut, in plane coordinates (metres).
type Loop struct {
	Plane  Plane
	Pts    [][2]float64
	Tri    []int32 // triangle that the piece from Pts[i] to Pts[i+1] lies on
	Closed bool
}

// Cut returns the curves in which plane pl meets the triangles that keep allows (nil: all), in order of
// their first triangle. A vertex exactly on the plane counts as lying on the normal's side, so that no
// degenerate pieces arise. Cost: O(triangles).
func Cut(m *mesh.Mesh, pl Plane, keep func(t int) bool) []Loop {
	var nodes [][2]float64
	var arms [][]int32 // pieces at each node
	type piece struct {
		a, b int32
		tri  int32
	}
	var pieces []piece
	index := map[uint64]int32{}
	node := func(i, j uint32, di, dj float64) int32 {
		if i > j {
			i, j, di, dj = j, i, dj, di
		}
		key := uint64(i)<<32 | uint64(j)
		if k, ok := index[key]; ok {
			return k
		}
		a, b := m.At(i), m.At(j)
		f := di / (di - dj)
		k := int32(len(nodes))
		index[key] = k
		nodes = append(nodes, pl.Flat(a.Add(b.Sub(a).Scale(f))))
		arms = append(arms, nil)
		return k
	}
	off := pl.Origin.Dot(pl.Normal)
	for t, tri := range m.Tri {
		d0 := m.At(tri[0]).Dot(pl.Normal) - off
		d1 := m.At(tri[1]).Dot(pl.Normal) - off
		d2 := m.At(tri[2]).Dot(pl.Normal) - off
		s0, s1, s2 := d0 >= 0, d1 >= 0, d2 >= 0
		if s0 == s1 && s1 == s2 || keep != nil && !keep(t) {
			continue
		}
		var ends [2]int32
		k := 0
		if s0 != s1 {
			ends[k] = node(tri[0], tri[1], d0, d1)
			k++
		}
		if s1 != s2 {
			ends[k] = node(tri[1], tri[2], d1, d2)
			k++
		}
		if s2 != s0 && k < 2 {
			ends[k] = node(tri[2], tri[0], d2, d0)
		}
		p := int32(len(pieces))
		pieces = append(pieces, piece{ends[0], ends[1], int32(t)})
		arms[ends[0]] = append(arms[ends[0]], p)
		arms[ends[1]] = append(arms[ends[1]], p)
	}

	used := make([]bool, len(pieces))
	walk := func(start, first int32) (pts []int32, tri []int32) {
		at, p := start, first
		pts = append(pts, at)
		for p >= 0 {
			used[p] = true
			tri = append(tri, pieces[p].tri)
			next := pieces[p].a + pieces[p].b - at
			pts = append(pts, next)
			at, p = next, -1
			for _, q := range arms[at] {
				if !used[q] {
					p = q
					break
				}
			}
		}
		return pts, tri
	}
	var out []Loop
	for p := range pieces {
		if used[p] {
			continue
		}
		fore, ft := walk(pieces[p].a, int32(p))
		closed := len(fore) > 2 && fore[0] == fore[len(fore)-1]
		if !closed {
			for _, q := range arms[fore[0]] {
				if !used[q] { // an open curve: walk its other half and put it in front
					back, bt := walk(fore[0], q)
					reverse(back)
					reverse(bt)
					fore, ft = append(back, fore[1:]...), append(bt, ft...)
					break
				}
			}
		} else {
			fore = fore[:len(fore)-1]
		}
		l := Loop{Plane: pl, Tri: ft, Closed: closed, Pts: make([][2]float64, len(fore))}
		for i, k := range fore {
			l.Pts[i] = nodes[k]
		}
		out = append(out, l)
	}
	return out
}

// Contour returns the length of the curve in metres.
func (l Loop) Contour() float64 { return length(l.Pts, l.Closed) }

// Tape returns the length of a tape drawn taut around the curve (its convex hull) in metres.
func (l Loop) Tape() float64 { return length(hull(l.Pts), true) }

// Area returns the enclosed area in m2; an open curve is closed by its chord.
func (l Loop) Area() float64 {
	a, _ := l.moments()
	return math.Abs(a)
}

// Centroid returns the centroid of the enclosed area, in the mesh's frame. A curve without area
// gives the mean of its points.
func (l Loop) Centroid() mesh.Vec {
	_, c := l.moments()
	return l.Plane.Lift(c)
}

// Contains reports whether p, dropped onto the plane, lies inside the curve (even-odd rule).
func (l Loop) Contains(p mesh.Vec) bool {
	q := l.Plane.Flat(p)
	in := false
	for i, j := 0, len(l.Pts)-1; i < len(l.Pts); j, i = i, i+1 {
		a, b := l.Pts[i], l.Pts[j]
		if (a[1] > q[1]) != (b[1] > q[1]) && q[0] < (b[0]-a[0])*(q[1]-a[1])/(b[1]-a[1])+a[0] {
			in = !in
		}
	}
	return in
}

// Extent returns the least and greatest coordinate of the curve along dir (a unit vector), metres.
func (l Loop) Extent(dir mesh.Vec) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, q := range l.Pts {
		v := l.Plane.Lift(q).Dot(dir)
		lo, hi = min(lo, v), max(hi, v)
	}
	return lo, hi
}

// Nearest returns the loop whose inside holds p, the smallest such; if none does, the one whose
// centroid is nearest. ok is false when there is no loop.
func Nearest(loops []Loop, p mesh.Vec) (l Loop, ok bool) {
	best, bestArea := -1, math.Inf(1)
	for i := range loops {
		if a := loops[i].Area(); loops[i].Closed && a < bestArea && loops[i].Contains(p) {
			best, bestArea = i, a
		}
	}
	if best < 0 {
		d := math.Inf(1)
		for i := range loops {
			if e := loops[i].Centroid().Sub(p).Len(); e < d {
				best, d = i, e
			}
		}
	}
	if best < 0 {
		return Loop{}, false
	}
	return loops[best], true
}

func (l Loop) moments() (area float64, c [2]float64) {
	n := len(l.Pts)
	if n == 0 {
		return 0, c
	}
	o := l.Pts[0]
	var mean [2]float64
	for i := range l.Pts {
		a, b := l.Pts[i], l.Pts[(i+1)%n]
		mean[0] += a[0] / float64(n)
		mean[1] += a[1] / float64(n)
		w := ((a[0]-o[0])*(b[1]-o[1]) - (b[0]-o[0])*(a[1]-o[1])) / 2
		area += w
		c[0] += w * (a[0] + b[0] + o[0]) / 3
		c[1] += w * (a[1] + b[1] + o[1]) / 3
	}
	if math.Abs(area) < 1e-12 {
		return area, mean
	}
	return area, [2]float64{c[0] / area, c[1] / area}
}

func length(p [][2]float64, closed bool) (s float64) {
	for i := 1; i < len(p); i++ {
		s += math.Hypot(p[i][0]-p[i-1][0], p[i][1]-p[i-1][1])
	}
	if n := len(p); closed && n > 1 {
		s += math.Hypot(p[0][0]-p[n-1][0], p[0][1]-p[n-1][1])
	}
	return s
}

// hull returns the convex hull, counter-clockwise (monotone chain).
//
// Source: Andrew, Information Processing Letters 9(5), 1979 (from memory).
func hull(in [][2]float64) [][2]float64 {
	p := append([][2]float64(nil), in...)
	sort.Slice(p, func(i, j int) bool {
		if p[i][0] != p[j][0] {
			return p[i][0] < p[j][0]
		}
		return p[i][1] < p[j][1]
	})
	if len(p) < 3 {
		return p
	}
	turn := func(a, b, c [2]float64) float64 {
		return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
	}
	h := make([][2]float64, 0, len(p)+1)
	half := func(q [2]float64, floor int) {
		for len(h) >= floor+2 && turn(h[len(h)-2], h[len(h)-1], q) <= 0 {
			h = h[:len(h)-1]
		}
		h = append(h, q)
	}
	for _, q := range p {
		half(q, 0)
	}
	floor := len(h) - 1
	for i := len(p) - 2; i >= 0; i-- {
		half(p[i], floor)
	}
	return h[:len(h)-1]
}

func reverse(s []int32) {
	for i, j := 0, len(s)-1; i < j; i, j = i+1, j-1 {
		s[i], s[j] = s[j], s[i]
	}
}
