package invent

import "mien/asset/mesh"

// cellEdges lists the two corners of each edge of a cell; edges 0, 4, 8 start at corner 0.
var cellEdges = [12][2]int{
	{0, 1}, {2, 3}, {4, 5}, {6, 7}, // along x
	{0, 2}, {1, 3}, {4, 6}, {5, 7}, // along y
	{0, 4}, {1, 5}, {2, 6}, {3, 7}, // along z
}

// patch holds for each set of inside corners the patch of surface that crosses each edge, or -1, and
// the number of patches.
var patch, patches = cellPatches()

func cellPatches() (of [256][12]int8, count [256]int8) {
	for m := range of {
		var parent [12]int8
		for e, c := range cellEdges {
			parent[e] = -1
			if m>>c[0]&1 != m>>c[1]&1 {
				parent[e] = int8(e)
			}
		}
		root := func(e int8) int8 {
			for parent[e] != e {
				e = parent[e]
			}
			return e
		}
		for _, fc := range faceCorners {
			last := int8(-1)
			for e, c := range cellEdges {
				if parent[e] < 0 || !onFace(fc, c[0]) || !onFace(fc, c[1]) {
					continue
				}
				if last >= 0 {
					a, b := root(last), root(int8(e))
					parent[max(a, b)] = min(a, b)
				}
				last = int8(e)
			}
		}
		number := [12]int8{}
		for e := range parent {
			of[m][e] = -1
			if parent[e] < 0 {
				continue
			}
			r := root(int8(e))
			if r == int8(e) {
				number[e] = count[m]
				count[m]++
			}
			of[m][e] = number[r]
		}
	}
	return of, count
}

func onFace(face [4]int, corner int) bool {
	return face[0] == corner || face[1] == corner || face[2] == corner || face[3] == corner
}

// vertices places a vertex for each patch, at the middle of its crossings.
func (g *grid) vertices() []mesh.Vec {
	out := make([]mesh.Vec, 0, len(g.cells)+len(g.cells)/50)
	for _, c := range g.cells {
		g.blockOf(c).first[c&(blockLen-1)] = int32(len(out))
		i, j, k := g.unpack(c)
		v, m := g.corners(i, j, k)
		var sum [4]mesh.Vec
		var n [4]float64
		for e, p := range patch[m] {
			if p < 0 {
				continue
			}
			a, b := cellEdges[e][0], cellEdges[e][1]
			t := float64(v[a] / (v[a] - v[b]))
			q := mesh.Vec{float64(a & 1), float64(a >> 1 & 1), float64(a >> 2)}
			q[e>>2] += t
			sum[p] = sum[p].Add(q)
			n[p]++
		}
		for p := int8(0); p < patches[m]; p++ {
			q := sum[p].Scale(1 / n[p])
			out = append(out, g.at(float64(i)+q[0], float64(j)+q[1], float64(k)+q[2]))
		}
	}
	return out
}

// around lists, for the grid edge along each axis that starts at a cell's corner 0, the offsets of the
// four cells around it and the number of the edge in each, counter-clockwise seen against the axis.
var around = [3][4]struct{ di, dj, dk, edge int }{
	{{0, 0, 0, 0}, {0, -1, 0, 1}, {0, -1, -1, 3}, {0, 0, -1, 2}},
	{{0, 0, 0, 4}, {0, 0, -1, 6}, {-1, 0, -1, 7}, {-1, 0, 0, 5}},
	{{0, 0, 0, 8}, {-1, 0, 0, 9}, {-1, -1, 0, 11}, {0, -1, 0, 10}},
}

// triangles joins the vertices around every grid edge that the surface crosses; each pair of
// triangles shares the shorter diagonal.
func (g *grid) triangles(pos []mesh.Vec) [][3]uint32 {
	out := make([][3]uint32, 0, 2*len(pos))
	for _, c := range g.cells {
		i, j, k := g.unpack(c)
		_, m := g.corners(i, j, k)
		for axis := range around {
			far := 1 << axis
			if m&1 == m>>far&1 {
				continue
			}
			var q [4]uint32
			whole := true
			for n, a := range around[axis] {
				x, y, z := i+a.di, j+a.dj, k+a.dk
				if !g.inside(x, y, z) {
					whole = false
					break
				}
				cc := g.pack(x, y, z)
				b := g.block[cc>>(3*blockBits)]
				if b == nil || !b.seen[cc&(blockLen-1)] {
					whole = false
					break
				}
				_, mm := g.corners(x, y, z)
				q[n] = uint32(b.first[cc&(blockLen-1)]) + uint32(patch[mm][a.edge])
			}
			if !whole {
				continue
			}
			if m&1 == 0 {
				q[1], q[3] = q[3], q[1]
			}
			d, e := pos[q[0]].Sub(pos[q[2]]), pos[q[1]].Sub(pos[q[3]])
			if d.Dot(d) <= e.Dot(e) {
				out = append(out, [3]uint32{q[0], q[1], q[2]}, [3]uint32{q[0], q[2], q[3]})
			} else {
				out = append(out, [3]uint32{q[0], q[1], q[3]}, [3]uint32{q[1], q[2], q[3]})
			}
		}
	}
	return out
}
