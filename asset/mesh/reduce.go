package mesh

import "context"

// Reduce welds the positions of m in place, drops triangles with two corners at one position, and then
// positions that no triangle uses. The order of what stays is kept. A label is that of the first
// of the joined positions which has one.
//
// It returns the count of triangles dropped, and for each position that stays the index that it
// had before, nil when all have kept theirs.
func (m *Mesh) Reduce(ctx context.Context) (dropped int, from []uint32, err error) {
	unique, index, err := weld(ctx, m.Pos)
	if err != nil {
		return 0, nil, err
	}
	if index != nil {
		for t := range m.Tri {
			c := &m.Tri[t]
			c[0], c[1], c[2] = index[c[0]], index[c[1]], index[c[2]]
		}
		from = make([]uint32, len(unique))
		for i := len(index) - 1; i >= 0; i-- {
			from[index[i]] = uint32(i)
		}
		m.joinLabels(index, len(unique))
		m.Pos = unique
	}
	dropped = m.dropFlat()
	return dropped, m.dropUnused(from), ctx.Err()
}

func (m *Mesh) joinLabels(index []uint32, n int) {
	if m.Label == nil {
		return
	}
	label := make([]uint8, n)
	for i := len(index) - 1; i >= 0; i-- {
		if m.Label[i] != 0 {
			label[index[i]] = m.Label[i]
		}
	}
	m.Label = label
}

// dropFlat drops triangles with two corners at one position.
func (m *Mesh) dropFlat() int {
	isFlat := func(c [3]uint32) bool { return c[0] == c[1] || c[1] == c[2] || c[2] == c[0] }
	kept := 0
	for kept < len(m.Tri) && !isFlat(m.Tri[kept]) {
		kept++
	}
	for t := kept; t < len(m.Tri); t++ {
		if isFlat(m.Tri[t]) {
			continue
		}
		m.Tri[kept] = m.Tri[t]
		if m.TriUV != nil {
			m.TriUV[kept] = m.TriUV[t]
		}
		if m.Material != nil {
			m.Material[kept] = m.Material[t]
		}
		kept++
	}
	dropped := len(m.Tri) - kept
	m.Tri = m.Tri[:kept]
	if m.TriUV != nil {
		m.TriUV = m.TriUV[:kept]
	}
	if m.Material != nil {
		m.Material = m.Material[:kept]
	}
	return dropped
}

// dropUnused drops positions that no triangle uses. from holds what index each position had before,
// nil for its own; the result says so for those that stay.
func (m *Mesh) dropUnused(from []uint32) []uint32 {
	used := make([]bool, len(m.Pos))
	for _, c := range m.Tri {
		used[c[0]], used[c[1]], used[c[2]] = true, true, true
	}
	n := 0
	for n < len(used) && used[n] {
		n++
	}
	if n == len(used) {
		return from
	}
	if from == nil {
		from = make([]uint32, len(m.Pos))
		for i := range from {
			from[i] = uint32(i)
		}
	}
	place := make([]uint32, len(m.Pos))
	for i := range n {
		place[i] = uint32(i)
	}
	for i := n; i < len(used); i++ {
		if !used[i] {
			continue
		}
		place[i] = uint32(n)
		m.Pos[n], from[n] = m.Pos[i], from[i]
		if m.Label != nil {
			m.Label[n] = m.Label[i]
		}
		n++
	}
	m.Pos, from = m.Pos[:n], from[:n]
	if m.Label != nil {
		m.Label = m.Label[:n]
	}
	for t := range m.Tri {
		c := &m.Tri[t]
		c[0], c[1], c[2] = place[c[0]], place[c[1]], place[c[2]]
	}
	return from
}

// ReduceMaterials drops from the set what no triangle uses, and Material when at most one is left. It
// returns for each material that stays the index that it had before.
func (m *Mesh) ReduceMaterials() (from []int) {
	used := make([]bool, max(1, len(m.MaterialSet)))
	if m.Material == nil {
		used[0] = len(m.Tri) > 0
	}
	for _, k := range m.Material {
		used[k] = true
	}
	place := make([]uint16, len(used))
	var set []Material
	for k := range used {
		if !used[k] {
			continue
		}
		place[k] = uint16(len(from))
		from = append(from, k)
		if k < len(m.MaterialSet) {
			set = append(set, m.MaterialSet[k])
		}
	}
	m.MaterialSet = set
	if len(from) < 2 {
		m.Material = nil
	}
	for t, k := range m.Material {
		m.Material[t] = place[k]
	}
	return from
}
