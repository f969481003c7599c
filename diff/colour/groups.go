package colour

import (
	"math"

	"mien/asset/texture"
	"mien/diff/skin"
)

const (
	// joinM joins strokes and letters of one artwork into one group.
	joinM = 0.008
	// leastCoherence is how far the samples of a group must agree on what changed: the length of their
	// mean difference over the mean length of their differences. Grain and the chroma blocks of a
	// compressed image give much less, a change of colour nearly 1.
	leastCoherence = 0.75
	// wornShare multiplies the least area on cloth, shoes and hair, which never lie the same way twice.
	// Common practice, no source.
	wornShare = 4
)

// groups returns the sets of changed samples of one direction that are large, strong and coherent
// enough to be a change. On skin only samples on which this direction's own side carries the detail
// are taken: what the other side carries, the other direction reports on its own surface. Other
// classes are reported on the new surface alone.
func (k *ink) groups(onNew bool, opt Options) [][]uint32 {
	f, seed := k.side.Field, float32(opt.ToleranceDE00)
	var marked []uint32
	for i, d := range k.side.DE00 {
		if d < seed/2 {
			continue
		}
		if skinLike(f.Class[i]) && !k.carries(i) || !skinLike(f.Class[i]) && !onNew {
			continue
		}
		marked = append(marked, uint32(i))
	}
	var out [][]uint32
	for _, members := range k.join(marked) {
		members = atHalf(k.side, members, seed)
		if len(members) == 0 {
			continue
		}
		least := opt.MinSpotCM2
		if !skinLike(f.Class[members[0]]) {
			least *= wornShare
		}
		if areaCM2(k.side, members) >= least && k.changed(members, opt.ToleranceDE00) {
			out = append(out, members)
		}
	}
	return out
}

// changed reports whether the members agree on what changed, and whether their mean colour differs
// from their partners' mean colour by the tolerance: noise that is strong sample by sample is not.
// Skin is judged as a whole. What is worn has panels and prints that may change each in its own way,
// so it is judged patch by patch.
func (k *ink) changed(members []uint32, toleranceDE00 float64) bool {
	worn := !skinLike(k.side.Field.Class[members[0]])
	var parts []change
	at := make(map[int32]int)
	for _, i := range members {
		key := int32(0)
		if worn {
			key = k.patch.Of[i]
		}
		p, ok := at[key]
		if !ok {
			p = len(parts)
			at[key] = p
			parts = append(parts, change{})
		}
		parts[p].add(k.level(i), k.delta[i])
	}
	var together, apart, mean, n float64
	for _, p := range parts {
		together += p.together()
		apart += p.apart
		mean += p.n * p.meanDE00()
		n += p.n
	}
	return together >= leastCoherence*apart && mean/n >= toleranceDE00
}

// change sums what a set of samples shows.
type change struct {
	from, delta [3]float64
	apart       float64 // sum of the lengths of the differences
	n           float64
}

func (p *change) add(from, delta [3]float32) {
	for c, v := range delta {
		p.delta[c] += float64(v)
		p.from[c] += float64(from[c])
	}
	p.apart += float64(distance(delta, [3]float32{}))
	p.n++
}

// together is the length of the summed differences.
func (p *change) together() float64 {
	return math.Sqrt(p.delta[0]*p.delta[0] + p.delta[1]*p.delta[1] + p.delta[2]*p.delta[2])
}

// meanDE00 is the difference of the mean colours.
func (p *change) meanDE00() float64 {
	var here, there texture.Lab
	for c := range p.delta {
		here[c] = p.from[c] / p.n
		there[c] = here[c] - p.delta[c]/p.n
	}
	return texture.DE00(here, there)
}

// alike reports whether two differences of colour point the same way, within 60 degrees.
func alike(a, b [3]float32) bool {
	dot := a[0]*b[0] + a[1]*b[1] + a[2]*b[2]
	return dot > 0.5*distance(a, [3]float32{})*distance(b, [3]float32{})
}

// carries reports whether the sample itself, rather than its partner, shows the detail that differs:
// whichever stands out more from the bare skin around, or the darker one when both stand out alike.
func (k *ink) carries(i int) bool {
	d := k.here[i] - k.there[i]
	size := distance(k.delta[i], [3]float32{})
	if d > 0.3*size || -d > 0.3*size {
		return d > 0
	}
	return k.delta[i][0] < 0
}

// join returns the connected groups of the marked samples: one class, at most joinM apart on the
// surface, changed alike in colour. Groups come in the order of their first sample.
func (i *ink) join(marked []uint32) [][]uint32 {
	f := i.side.Field
	p, n := make([][3]float32, len(marked)), make([][3]float32, len(marked))
	for k, m := range marked {
		p[k], n[k] = f.Pos[m], f.Normal[m]
	}
	grid := skin.NewGrid(p, n, joinM)
	parent := make([]uint32, len(marked))
	for k := range parent {
		parent[k] = uint32(k)
	}
	find := func(k uint32) uint32 {
		for parent[k] != k {
			parent[k] = parent[parent[k]]
			k = parent[k]
		}
		return k
	}
	var near []uint32
	for k := range marked {
		near = grid.Near(p[k], n[k], joinM, near[:0])
		for _, j := range near {
			if f.Class[marked[j]] != f.Class[marked[k]] || !alike(i.delta[marked[j]], i.delta[marked[k]]) {
				continue
			}
			a, b := find(uint32(k)), find(j)
			if a < b {
				parent[b] = a
			} else {
				parent[a] = b
			}
		}
	}
	number := make([]int32, len(marked))
	var groups [][]uint32
	for k := range marked {
		r := find(uint32(k))
		if int(r) == k {
			number[k] = int32(len(groups))
			groups = append(groups, nil)
		}
		g := number[r]
		groups[g] = append(groups[g], marked[k])
	}
	return groups
}

// atHalf keeps the members that differ by at least half of what the group's strong part does, or none
// when no part of the group reaches seed.
func atHalf(side *Side, members []uint32, seed float32) []uint32 {
	v := make([]float64, len(members))
	for k, i := range members {
		v[k] = float64(side.DE00[i])
	}
	strong := skin.Quantile(v, 0.9)
	if strong < float64(seed) {
		return nil
	}
	var out []uint32
	for _, i := range members {
		if float64(side.DE00[i]) >= strong/2 {
			out = append(out, i)
		}
	}
	return out
}

func areaCM2(side *Side, members []uint32) float64 {
	s := 0.0
	for _, i := range members {
		s += float64(side.Field.AreaM2[i])
	}
	return s * 1e4
}
