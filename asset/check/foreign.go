package check

import (
	"fmt"
	"math"

	"mien/asset"
	"mien/asset/mesh"
)

// foreign finds floors and stands: marked by their material, or a level sheet under the feet that is
// wider than a person's stance.
func (v *viewer) foreign() (out []Issue) {
	var marked float64
	for t := range v.m.Tri {
		if !v.person(t) {
			marked += v.area[t]
		}
	}
	if marked > 0 {
		out = append(out, issue("stand", Note, "mesh", fmt.Sprintf("%.0f cm2", marked*1e4), "none",
			"%.0f cm2 of the surface are a stand by their material", marked*1e4))
	}
	if v.s.Part != asset.PartBody {
		return out
	}
	var level float64
	lo := mesh.Vec{math.Inf(1), 0, math.Inf(1)}
	hi := mesh.Vec{math.Inf(-1), 0, math.Inf(-1)}
	for t, tri := range v.m.Tri {
		if !v.person(t) || math.Abs(v.m.FaceNormal(t)[1]) < 0.95 || v.m.At(tri[0])[1] > v.lo[1]+0.03 {
			continue
		}
		level += v.area[t]
		for _, i := range tri {
			p := v.m.At(i)
			for k := 0; k < 3; k += 2 {
				lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
			}
		}
	}
	if level > 0.15 && hi[0]-lo[0] > 0.6 && hi[2]-lo[2] > 0.45 {
		out = append(out, issue("floor", Warn, "mesh", fmt.Sprintf("%.0f cm2 level at the lowest point", level*1e4), "soles only",
			"a level sheet of %.0f cm2 lies under the feet: a floor or turntable", level*1e4))
	}
	return out
}

const (
	coarseEdges  = 6    // median edges that an edge of a membrane is longer than
	membraneM2   = 1e-3 // least area of a membrane that is reported
	membraneFlat = 0.70 // length of its mean normal, 1 for a plane
)

// membranes finds sheets of coarse, nearly coplanar triangles amid fine ones: what a solver draws across
// a place it did not see, such as a crown or a sole.
func (v *viewer) membranes() []Issue {
	long := make([]bool, len(v.m.Tri))
	for t := range v.m.Tri {
		a, b, c := v.m.Corner(t)
		long[t] = v.person(t) && max(a.Sub(b).Len(), b.Sub(c).Len(), c.Sub(a).Len()) > coarseEdges*v.edge
	}
	group := patches(v.m, long)
	var total float64
	n := 0
	for _, list := range group {
		var normal mesh.Vec
		var area float64
		for _, t := range list {
			normal = normal.Add(v.m.FaceNormal(t).Scale(v.area[t]))
			area += v.area[t]
		}
		if area >= membraneM2 && normal.Len() > membraneFlat*area {
			n++
			total += area
		}
	}
	if n == 0 {
		return nil
	}
	return []Issue{issue("membrane", Warn, "mesh", fmt.Sprintf("%d, %.0f cm2", n, total*1e4), "none",
		"%d flat sheets of coarse triangles, together %.0f cm2, close places that were not seen", n, total*1e4)}
}

// patches groups the marked triangles that are connected through shared vertices, in order of their
// first triangle.
func patches(m *mesh.Mesh, marked []bool) [][]int {
	owner := map[uint32]int{}
	var parent []int
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	var ids, tris []int
	for t, tri := range m.Tri {
		if !marked[t] {
			continue
		}
		id := len(parent)
		parent = append(parent, id)
		for _, v := range tri {
			if o, ok := owner[v]; ok {
				a, b := find(o), find(id)
				parent[max(a, b)] = min(a, b)
			}
			owner[v] = id
		}
		ids, tris = append(ids, id), append(tris, t)
	}
	at := map[int]int{}
	var out [][]int
	for i, id := range ids {
		r := find(id)
		k, ok := at[r]
		if !ok {
			k = len(out)
			at[r] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], tris[i])
	}
	return out
}
