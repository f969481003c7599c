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

func (ix *Index) nearestBoxes(c *crate, n int, q []point, out []int32) {
	nearestBoxesGo(c, n, q, out)
}

func (ix *Index) boxesWithin(c *crate, n int, q []point, r2 []float32, not []int32, leaf, owner []int32) (pairs, points int) {
	return boxesWithinGo(c, n, q, r2, not, leaf, owner)
}

func (ix *Index) pairsDist2(list, owner []int32, q []point, out, least [][fan]float32) {
	pairsDist2Go(ix.leaf, list, owner, q, out, least)
}

func (ix *Index) least(d2 [][fan]float32, out []float32) { leastGo(d2, out) }

func (ix *Index) within(d2 [][fan]float32, list, owner []int32, root []float32, place, who []int32) int {
	return withinGo(d2, list, owner, ix.slack, root, place, who)
}

func (ix *Index) boundLeaf(l *leaf, b *bounds) { boundLeafGo(l, b) }
