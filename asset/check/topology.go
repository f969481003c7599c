package check

import (
	"fmt"
	"math"
	"sort"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// faces counts triangles without area and triangles that are there twice.
func (v *viewer) faces() (out []Issue) {
	flat, twice := 0, 0
	key := make([][3]uint32, len(v.m.Tri))
	for t, tri := range v.m.Tri {
		if tri[0] == tri[1] || tri[1] == tri[2] || tri[2] == tri[0] || v.area[t] < 1e-12 {
			flat++
		}
		a, b, c := tri[0], tri[1], tri[2]
		if a > b {
			a, b = b, a
		}
		if b > c {
			b, c = c, b
		}
		if a > b {
			a, b = b, a
		}
		key[t] = [3]uint32{a, b, c}
	}
	sort.Slice(key, func(i, j int) bool {
		for k := 0; k < 2; k++ {
			if key[i][k] != key[j][k] {
				return key[i][k] < key[j][k]
			}
		}
		return key[i][2] < key[j][2]
	})
	for i := 1; i < len(key); i++ {
		if key[i] == key[i-1] {
			twice++
		}
	}
	if flat > 0 {
		out = append(out, issue("faces-without-area", byShare(flat, len(key), 0.01), "mesh", fmt.Sprint(flat), "none",
			"%d of %d triangles have no area", flat, len(key)))
	}
	if twice > 0 {
		out = append(out, issue("faces-twice", byShare(twice, len(key), 0.001), "mesh", fmt.Sprint(twice), "none",
			"%d of %d triangles are there twice", twice, len(key)))
	}
	return out
}

// byShare is a warning from the share on, a note below.
func byShare(n, of int, from float64) Severity {
	if float64(n) >= from*float64(of) {
		return Warn
	}
	return Note
}

// Boundary loops shorter than this are pinholes that fitting closes. Common practice, no source.
const pinholeM = 0.03

// edges counts edges that more than two triangles share, and lists the loops of the boundary.
func (v *viewer) edges() (out []Issue) {
	many := 0
	var rim []mesh.Edge
	for _, e := range v.list {
		switch {
		case e.Count > 2:
			many++
		case e.Count == 1 && !(v.stands[e.A] && v.stands[e.B]):
			rim = append(rim, e)
		}
	}
	if many > 0 {
		out = append(out, issue("edges-shared", byShare(many, len(v.list), 0.002), "mesh", fmt.Sprint(many), "none",
			"%d of %d edges are shared by more than two triangles", many, len(v.list)))
	}
	loops := v.rims(rim)
	if v.s.Part != asset.PartBody && len(loops) > 0 {
		loops = loops[1:] // the cut at the neck, wrist or ankle is the longest
	}
	pins, wide, longest := 0, 0, 0.0
	for _, l := range loops {
		if l < pinholeM {
			pins++
			continue
		}
		wide++
		longest = max(longest, l)
	}
	if pins > 0 {
		out = append(out, issue("pinholes", Note, "mesh", fmt.Sprint(pins), "none", "surface has %d holes with a rim under %.0f mm", pins, pinholeM*1000))
	}
	if wide > 0 {
		sev := Note
		if longest > 0.10 {
			sev = Warn
		}
		out = append(out, issue("holes", sev, "mesh", fmt.Sprintf("%d, longest rim %.0f mm", wide, longest*1000), "none",
			"surface has %d holes, the longest rim %.0f mm", wide, longest*1000))
	}
	return out
}

// rims returns the lengths of connected boundary curves in metres, longest first.
func (v *viewer) rims(rim []mesh.Edge) []float64 {
	parent := map[uint32]uint32{}
	find := func(i uint32) uint32 {
		p, ok := parent[i]
		if !ok {
			parent[i] = i
			return i
		}
		for p != parent[p] {
			p = parent[p]
		}
		parent[i] = p
		return p
	}
	for _, e := range rim {
		a, b := find(e.A), find(e.B)
		if a != b {
			parent[max(a, b)] = min(a, b)
		}
	}
	at := map[uint32]int{}
	var out []float64
	for _, e := range rim {
		r := find(e.A)
		k, ok := at[r]
		if !ok {
			k = len(out)
			at[r] = k
			out = append(out, 0)
		}
		out[k] += v.m.At(e.A).Sub(v.m.At(e.B)).Len()
	}
	sort.Sort(sort.Reverse(sort.Float64Slice(out)))
	return out
}

// pieces finds specks: separate pieces of surface that are too small to be a shoe, an eye or a lock of
// hair.
func (v *viewer) pieces() []Issue {
	if v.count < 2 {
		return nil
	}
	area := make([]float64, v.count)
	for t, p := range v.piece {
		if v.person(t) {
			area[p] += v.area[t]
		}
	}
	specks, sum := 0, 0.0
	for _, a := range area {
		if a > 0 && a < 2e-4 {
			specks++
			sum += a
		}
	}
	if specks == 0 {
		return nil
	}
	sev := Note
	if specks > 50 || sum > 0.005*v.total {
		sev = Warn
	}
	return []Issue{issue("specks", sev, "mesh", fmt.Sprint(specks), "none",
		"%d loose pieces under 2 cm2, together %.1f cm2", specks, sum*1e4)}
}

// winding finds neighbours that face opposite ways and surfaces that are inside out.
func (v *viewer) winding() (out []Issue) {
	type half struct{ a, b uint32 }
	seen := make(map[half]struct{}, 3*len(v.m.Tri))
	clash := 0
	for _, t := range v.m.Tri {
		for k := 0; k < 3; k++ {
			h := half{t[k], t[(k+1)%3]}
			if _, ok := seen[h]; ok {
				clash++
			}
			seen[h] = struct{}{}
		}
	}
	if share := float64(clash) / float64(3*len(v.m.Tri)); share > 0.01 {
		out = append(out, issue("winding-mixed", Warn, "mesh", fmt.Sprintf("%.1f %%", share*100), "under 1 %",
			"%.1f %% of edges are run through twice the same way: triangles face both ways", share*100))
	}
	if vol := v.enclosed(); vol < -0.02*math.Pow(v.total, 1.5) {
		out = append(out, issue("inside-out", Refuse, "mesh", fmt.Sprintf("%.0f cm3", vol*1e6), "more than 0",
			"surface is inside out: its volume is %.0f cm3", vol*1e6))
	}
	return out
}

// enclosed returns the signed volume about the middle of the surface; a modest opening changes its size
// but not its sign.
func (v *viewer) enclosed() float64 {
	var mid mesh.Vec
	for t := range v.m.Tri {
		if !v.person(t) {
			continue
		}
		a, b, c := v.m.Corner(t)
		mid = mid.Add(a.Add(b).Add(c).Scale(v.area[t] / (3 * v.total)))
	}
	var vol float64
	for t := range v.m.Tri {
		if terms.Class(v.m.ClassOf(t)) == terms.HairClass || !v.person(t) {
			continue
		}
		a, b, c := v.m.Corner(t)
		vol += a.Sub(mid).Dot(b.Sub(mid).Cross(c.Sub(mid))) / 6
	}
	return vol
}
