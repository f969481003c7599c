//go:build !amd64

package near

const hasVectors = false

func hilberts(cell *[3][fan]uint32, code *[fan]uint64) { hilbertsGo(cell, code) }

func (ix *Index) nodeDist2(n *node, p *point, out *[fan]float32) { nodeDist2Go(n, p, out) }

func (ix *Index) nodeReach(n *node, lo, hi *point, r2 float32) uint32 {
	return nodeReachGo(n, lo, hi, r2)
}

func (ix *Index) collect(list []int32, lo, hi *point, r2 float32, out *crate) int {
	n := collectGo(ix.level[0], list, lo, hi, r2, out)
	out.close(n)
	return n
}

func (ix *Index) nearestBox(c *crate, n int, p *point) int32 { return nearestBoxGo(c, n, p) }

func (ix *Index) boxesWithin(c *crate, n int, p *point, r2 float32, out *[crateRoom]int32) int {
	return boxesWithinGo(c, n, p, r2, out[:])
}

func (ix *Index) leavesDist2(list []int32, p *point, out [][fan]float32) float32 {
	return leavesDist2Go(ix.leaf, list, p, out)
}

func (ix *Index) within(d2 [][fan]float32, list []int32, root float32, out []int32) int {
	return withinGo(d2, list, ix.slack, root, out)
}

func (ix *Index) boundLeaf(l *leaf, b *bounds) { boundLeafGo(l, b) }
