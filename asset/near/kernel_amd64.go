package near

import "golang.org/x/sys/cpu"

// hasVectors reports whether the processor and the system have what kernel_amd64.s uses.
var hasVectors = cpu.X86.HasAVX2 && cpu.X86.HasFMA && cpu.X86.HasPOPCNT

//go:noescape
func hilbertAVX2(cell *[3][fan]uint32, code *[fan]uint64)

//go:noescape
func nodeDist2AVX2(n *node, p *point, out *[fan]float32)

//go:noescape
func nodeReachAVX2(n *node, lo, hi *point, r2 float32) uint32

//go:noescape
func collectAVX2(nodes *node, list *int32, n int, lo, hi *point, r2 float32, out *crate) int

//go:noescape
func nearestBoxesAVX2(c *crate, n int, q *point, m int, out *int32)

//go:noescape
func boxesWithinAVX2(c *crate, n int, q *point, r2 *float32, not *int32, m, room int, leaf, owner *int32) (pairs, points int)

//go:noescape
func pairsDist2AVX2(leaves *leaf, list, owner *int32, n int, q *point, out, least *[fan]float32)

//go:noescape
func leastAVX2(d2 *[fan]float32, m int, out *float32)

//go:noescape
func withinAVX2(d2 *[fan]float32, list, owner *int32, n int, slack, root *float32, place, who *int32) int

//go:noescape
func boundLeafAVX2(l *leaf, b *bounds)

// hilberts writes the places on the Hilbert curve of eight cells.
func hilberts(cell *[3][fan]uint32, code *[fan]uint64) {
	if hasVectors {
		hilbertAVX2(cell, code)
		return
	}
	hilbertsGo(cell, code)
}

// nodeDist2 writes the squared distances from p to the boxes of n; infinite for a missing one.
func (ix *Index) nodeDist2(n *node, p *point, out *[fan]float32) {
	if ix.vectors {
		nodeDist2AVX2(n, p, out)
		return
	}
	nodeDist2Go(n, p, out)
}

// nodeReach returns a bit for each box of n at most the root of r2 away from the box lo, hi.
func (ix *Index) nodeReach(n *node, lo, hi *point, r2 float32) uint32 {
	if ix.vectors {
		return nodeReachAVX2(n, lo, hi, r2)
	}
	return nodeReachGo(n, lo, hi, r2)
}

// collect puts those boxes of the lowest nodes in list, 1 to batch, into out that are at most the root
// of r2 away from the box lo, hi, and returns how many.
func (ix *Index) collect(list []int32, lo, hi *point, r2 float32, out *crate) (n int) {
	list = list[:min(len(list), batch)]
	if ix.vectors {
		n = collectAVX2(&ix.level[0][0], &list[0], len(list), lo, hi, r2, out)
	} else {
		n = collectGo(ix.level[0], list, lo, hi, r2, out)
	}
	out.close(n)
	return n
}

// nearestBoxes writes the leaf of the box with the nearest middle, among the first n of c, for every
// point of q. There is at least one of each.
func (ix *Index) nearestBoxes(c *crate, n int, q []point, out []int32) {
	if ix.vectors {
		_ = out[len(q)-1]
		nearestBoxesAVX2(c, n, &q[0], len(q), &out[0])
		return
	}
	nearestBoxesGo(c, n, q, out)
}

// boxesWithin pairs every point of q with the leaves of those of the first n boxes of c that are at
// most the root of its r2 away, but for the leaf not. It stops before the point whose pairs may not
// fit, with eight places to spare, and returns how many pairs it made for how many points.
func (ix *Index) boxesWithin(c *crate, n int, q []point, r2 []float32, not []int32, leaf, owner []int32) (pairs, points int) {
	if ix.vectors {
		_, _, _ = r2[len(q)-1], not[len(q)-1], owner[len(leaf)-1]
		return boxesWithinAVX2(c, n, &q[0], &r2[0], &not[0], len(q), len(leaf)-fan, &leaf[0], &owner[0])
	}
	return boxesWithinGo(c, n, q, r2, not, leaf, owner)
}

// pairsDist2 writes the squared distances of each pair's point to the triangles of its leaf, and lowers
// the point's least ones.
func (ix *Index) pairsDist2(list, owner []int32, q []point, out, least [][fan]float32) {
	if len(list) == 0 {
		return
	}
	if ix.vectors {
		_, _, _ = owner[len(list)-1], out[len(list)-1], least[len(q)-1]
		pairsDist2AVX2(&ix.leaf[0], &list[0], &owner[0], len(list), &q[0], &out[0], &least[0])
		return
	}
	pairsDist2Go(ix.leaf, list, owner, q, out, least)
}

// least writes the root of the least of each eight squared distances, of which there are some.
func (ix *Index) least(d2 [][fan]float32, out []float32) {
	if ix.vectors {
		_ = out[len(d2)-1]
		leastAVX2(&d2[0], len(d2), &out[0])
		return
	}
	leastGo(d2, out)
}

// within lists the places of the triangles of at least one pair whose squared distance d2 is at most
// that of the point's root and the leaf's slack, and who the point is. It needs room for eight more.
func (ix *Index) within(d2 [][fan]float32, list, owner []int32, root []float32, place, who []int32) int {
	if ix.vectors {
		room := (len(list)+1)*fan - 1
		_, _, _, _ = d2[len(list)-1], owner[len(list)-1], place[room], who[room]
		return withinAVX2(&d2[0], &list[0], &owner[0], len(list), &ix.slack[0], &root[0], &place[0], &who[0])
	}
	return withinGo(d2, list, owner, ix.slack, root, place, who)
}

// boundLeaf works out box and slack of a leaf.
func (ix *Index) boundLeaf(l *leaf, b *bounds) {
	if ix.vectors {
		boundLeafAVX2(l, b)
		return
	}
	boundLeafGo(l, b)
}
