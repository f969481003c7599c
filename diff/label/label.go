// Package label carries region labels from a labelled scan to an unlabelled one of the same subject,
// by closest points in a common frame.
package label

import (
	"context"
	"errors"

	"mien/asset/mesh"
	"mien/asset/near"
	"mien/asset/terms"
)

// Options of [Transfer]; the zero value is the usual transfer.
type Options struct {
	FromIndex *near.Index // closest points of the labelled mesh, if the caller has them
	ReachMm   float64     // farther points carry no label; 0 = 30
	Rounds    int         // of majority voting among neighbours; 0 = 2, negative = none
}

// ErrNoLabels says that the mesh to take labels from has none.
var ErrNoLabels = errors.New("labelled mesh has no region labels")

// Transfer returns a region for every vertex of to: that of the closest point of from, which must lie
// within the reach and face the same way (less than 90 degrees), cleaned by majority votes among
// neighbours. A vertex without such a point takes the majority of its labelled neighbours, or stays
// unlabelled when the hole is wide. covered is the share of to's vertices with a point of their own.
//
// Both meshes are in one frame, metres. Arguments are not changed. Cost: O(n log m) expected.
func Transfer(ctx context.Context, from, to *mesh.Mesh, opt Options) (labels []uint8, covered float64, err error) {
	if from.Label == nil {
		return nil, 0, ErrNoLabels
	}
	if opt.ReachMm == 0 {
		opt.ReachMm = 30
	}
	if opt.Rounds == 0 {
		opt.Rounds = 2
	}
	ix := opt.FromIndex
	if ix == nil {
		if ix, err = near.Build(ctx, from); err != nil {
			return nil, 0, err
		}
	}
	hits, ok, err := ix.ClosestAll(ctx, len(to.Pos), func(i int) mesh.Vec { return to.At(uint32(i)) }, opt.ReachMm/1000)
	if err != nil {
		return nil, 0, err
	}
	normals := to.VertexNormals()
	labels = make([]uint8, len(to.Pos))
	n := 0
	for i := range labels {
		if !ok[i] || normals[i].Dot(from.FaceNormal(int(hits[i].Tri))) < 0 {
			continue
		}
		labels[i] = labelAt(from, hits[i])
		if labels[i] != 0 {
			n++
		}
	}
	if len(labels) > 0 {
		covered = float64(n) / float64(len(labels))
	}
	for range max(opt.Rounds, 0) {
		if err := ctx.Err(); err != nil {
			return nil, 0, err
		}
		labels = vote(to, labels)
	}
	return labels, covered, nil
}

// labelAt returns the label of the corner that weighs most at a hit.
func labelAt(m *mesh.Mesh, h near.Hit) uint8 {
	w := [3]float64{1 - h.Bary[0] - h.Bary[1], h.Bary[0], h.Bary[1]}
	k := 0
	for c := 1; c < 3; c++ {
		if w[c] > w[k] {
			k = c
		}
	}
	return m.Label[m.Tri[h.Tri][k]]
}

// vote gives every vertex the label that most of its neighbours and itself have; a tie keeps its own.
func vote(m *mesh.Mesh, in []uint8) []uint8 {
	const slots = 4 // different labels that can meet at one vertex
	count := make([][slots]uint16, len(in))
	which := make([][slots]uint8, len(in))
	put := func(v uint32, l uint8, w uint16) {
		if l == 0 || l >= uint8(terms.RegionCount) {
			return
		}
		for k := 0; k < slots; k++ {
			if count[v][k] == 0 || which[v][k] == l {
				which[v][k] = l
				count[v][k] += w
				return
			}
		}
	}
	for v, l := range in {
		put(uint32(v), l, 2)
	}
	for _, t := range m.Tri {
		for k := 0; k < 3; k++ {
			put(t[k], in[t[(k+1)%3]], 1)
			put(t[k], in[t[(k+2)%3]], 1)
		}
	}
	out := make([]uint8, len(in))
	for v := range out {
		best, w := in[v], uint16(0)
		for k := 0; k < slots; k++ {
			if count[v][k] > 0 && which[v][k] == in[v] {
				w = count[v][k]
			}
		}
		for k := 0; k < slots; k++ {
			if count[v][k] > w {
				best, w = which[v][k], count[v][k]
			}
		}
		out[v] = best
	}
	return out
}
