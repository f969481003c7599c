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
func nearestBoxAVX2(c *crate, n int, p *point) int32

//go:noescape
func boxesWithinAVX2(c *crate, n int, p *point, r2 float32, out *int32) int

//go:noescape
func leavesDist2AVX2(leaves *leaf, list *int32, n int, p *point, out *[fan]float32) float32

//go:noescape
func withinAVX2(d2 *[fan]float32, list *int32, slack *float32, n int, root float32, out *int32) int

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

// nearestBox returns the leaf of the box with the nearest middle among the first n of c, at least one.
func (ix *Index) nearestBox(c *crate, n int, p *point) int32 {
	if ix.vectors {
		return nearestBoxAVX2(c, n, p)
	}
	return nearestBoxGo(c, n, p)
}

// boxesWithin lists in out the leaves of the first n boxes of c, at least one, that are at most the
// root of r2 away from p, and returns how many.
func (ix *Index) boxesWithin(c *crate, n int, p *point, r2 float32, out *[crateRoom]int32) int {
	if ix.vectors {
		return boxesWithinAVX2(c, n, p, r2, &out[0])
	}
	return boxesWithinGo(c, n, p, r2, out[:])
}

// leavesDist2 writes the squared distances from p to the triangles of the leaves in list, at least
// one, and returns the least.
func (ix *Index) leavesDist2(list []int32, p *point, out [][fan]float32) float32 {
	if ix.vectors {
		_ = out[len(list)-1]
		return leavesDist2AVX2(&ix.leaf[0], &list[0], len(list), p, &out[0])
	}
	return leavesDist2Go(ix.leaf, list, p, out)
}

// within lists in out the places of the triangles of the leaves in list, at least one, whose squared
// distance d2 is at most that of root and the leaf's slack. out has room for eight more.
func (ix *Index) within(d2 [][fan]float32, list []int32, root float32, out []int32) int {
	if ix.vectors {
		_, _ = d2[len(list)-1], out[(len(list)+1)*fan-1]
		return withinAVX2(&d2[0], &list[0], &ix.slack[0], len(list), root, &out[0])
	}
	return withinGo(d2, list, ix.slack, root, out)
}

// boundLeaf works out box and slack of a leaf.
func (ix *Index) boundLeaf(l *leaf, b *bounds) {
	if ix.vectors {
		boundLeafAVX2(l, b)
		return
	}
	boundLeafGo(l, b)
}
