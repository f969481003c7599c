package colour

import (
	"context"
	"math"

	"mien/asset/mesh"
	"mien/asset/near"
	"mien/diff/skin"
)

const (
	slipM       = 0.012 // most that skin is allowed to have moved over the body
	slipWindowM = 0.035 // surface that one displacement is measured on
	slipSpreadM = 0.040 // surface that it is applied to
	slipStepM   = 0.003 // first steps of the search, halved twice
	slipGain    = 0.5   // a displacement must halve the squared difference at least
	slipFold    = 0.5   // steepest change of displacement a metre; 1 would fold the skin
	slipSamples = 160   // samples looked at in one window
	slipNodes   = 150   // places at which slip is measured, evenly thinned beyond
)

// node is one measured displacement of the skin.
type node struct {
	pos, normal [3]float32
	axis        [2]mesh.Vec // orthogonal, in the surface
	by          [2]float64  // metres along the axes
	won         bool
}

// takeSlipOut looks for small smooth displacements of the skin where both sides show detail that does
// not match, and where one explains at least half of the difference it replaces the partners' colours
// by those at the displaced places and matches again. It returns the median length of the accepted
// displacements in mm, 0 when there are none.
//
// Two scans of one tattoo on skin that slid give rings of opposite sign; new ink on bare skin gives no
// detail on the other side, so nothing is moved for it.
func takeSlipOut(ctx context.Context, detail [2]*ink, opt Options) (float64, error) {
	var length []float64
	var nodes [2][]node
	for k := range detail {
		var err error
		if nodes[k], err = detail[k].displacements(ctx, detail[1-k], detail[k].groups(k == 0, opt)); err != nil {
			return 0, err
		}
	}
	// All displacements are measured before any colour is replaced.
	for k := range detail {
		for _, n := range nodes[k] {
			length = append(length, 1000*math.Hypot(n.by[0], n.by[1]))
		}
		if err := detail[k].apply(ctx, detail[1-k], nodes[k]); err != nil {
			return 0, err
		}
	}
	if len(length) == 0 {
		return 0, nil
	}
	return skin.Quantile(length, 0.5), nil
}

// displacements measures the slip at each patch of skin that has a changed sample in one of the groups.
func (k *ink) displacements(ctx context.Context, other *ink, groups [][]uint32) ([]node, error) {
	f := k.side.Field
	wanted := make([]bool, k.patch.Len())
	for _, members := range groups {
		for _, i := range members {
			if skinLike(f.Class[i]) {
				wanted[k.patch.Of[i]] = true
			}
		}
	}
	var nodes []node
	for p, w := range wanted {
		if w {
			pos, normal := k.patch.At(p)
			nodes = append(nodes, newNode(pos, normal))
		}
	}
	if len(nodes) == 0 {
		return nil, nil
	}
	nodes = thinned(nodes, slipNodes)
	coarse := skin.NewGrid(f.Pos, f.Normal, slipWindowM)
	near.Share(ctx, len(nodes), 4, func(lo, hi int) {
		for a := lo; a < hi; a++ {
			k.search(&nodes[a], coarse, other)
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	kept := nodes[:0]
	for _, n := range nodes {
		if n.won {
			kept = append(kept, n)
		}
	}
	return unfolded(kept), nil
}

// thinned keeps at most most nodes, evenly from the whole list.
func thinned(nodes []node, most int) []node {
	if len(nodes) <= most {
		return nodes
	}
	out := make([]node, most)
	for k := range out {
		out[k] = nodes[k*len(nodes)/most]
	}
	return out
}

func newNode(pos, normal [3]float32) node {
	n := mesh.Vec{float64(normal[0]), float64(normal[1]), float64(normal[2])}
	up := mesh.Vec{0, 1, 0}
	if math.Abs(n[1]) > 0.9 {
		up = mesh.Vec{0, 0, 1}
	}
	x := up.Cross(n).Unit()
	return node{pos: pos, normal: normal, axis: [2]mesh.Vec{x, n.Cross(x)}}
}

// search finds the displacement that makes the window's colours agree best: a square spread of
// starts within slipM, then halved steps. The displacement stays zero unless it wins.
func (k *ink) search(n *node, coarse *skin.Grid, other *ink) {
	all := coarse.Near(n.pos, n.normal, slipWindowM, nil)
	step := max(1, len(all)/slipSamples)
	var window []uint32
	here, there := 0, 0
	for a := 0; a < len(all); a += step {
		i := all[a]
		if !k.side.Compared[i] || !skinLike(k.side.Field.Class[i]) {
			continue
		}
		window = append(window, i)
		if k.here[i] > keptDE {
			here++
		}
		if distance(k.side.ToLab[i], k.bare[k.patch.Of[i]]) > keptDE {
			there++
		}
	}
	if len(window) < 20 || here < 4 || there < 4 || here < there/3 || there < here/3 {
		return
	}
	still := k.cost(n, window, other, [2]float64{})
	best, at := still, [2]float64{}
	try := func(by [2]float64) {
		if math.Hypot(by[0], by[1]) > slipM {
			return
		}
		if c := k.cost(n, window, other, by); c < best {
			best, at = c, by
		}
	}
	reach := int(slipM / slipStepM)
	for a := -reach; a <= reach; a++ {
		for b := -reach; b <= reach; b++ {
			try([2]float64{float64(a) * slipStepM, float64(b) * slipStepM})
		}
	}
	for s := slipStepM / 2; s > slipStepM/5; s /= 2 {
		from := at
		for a := -1; a <= 1; a++ {
			for b := -1; b <= 1; b++ {
				try([2]float64{from[0] + float64(a)*s, from[1] + float64(b)*s})
			}
		}
	}
	n.by, n.won = at, best < slipGain*still
}

// cost is the mean squared difference of colour over the window when partners are looked up at the
// displaced place. Places that the other surface does not show count as a full stroke of ink.
func (k *ink) cost(n *node, window []uint32, other *ink, by [2]float64) float64 {
	const missing = 15 * 15
	sum := 0.0
	for _, i := range window {
		c, ok := k.displaced(n, i, other, by)
		if !ok {
			sum += missing
			continue
		}
		d := float64(distance(k.level(i), c))
		sum += min(d*d, 4*missing)
	}
	return sum / float64(len(window))
}

// displaced returns the other surface's colour beside the partner of sample i.
func (k *ink) displaced(n *node, i uint32, other *ink, by [2]float64) ([3]float32, bool) {
	p := k.side.Field.OnPos[i]
	normal := k.side.Field.Normal[i]
	m := mesh.Vec{float64(normal[0]), float64(normal[1]), float64(normal[2])}
	shift := n.axis[0].Scale(by[0]).Add(n.axis[1].Scale(by[1]))
	if l := shift.Len(); l > 0 {
		shift = shift.Sub(m.Scale(shift.Dot(m))).Unit().Scale(l)
	}
	for c := range p {
		p[c] += float32(shift[c])
	}
	return other.around(p, normal)
}

// around returns the mean colour of the samples within matchM of p, nearer ones weighing more.
func (k *ink) around(p, normal [3]float32) ([3]float32, bool) {
	var buf [64]uint32
	var sum [3]float32
	var weight float32
	for _, j := range k.grid.Near(p, normal, matchM, buf[:0]) {
		if !k.side.Compared[j] {
			continue
		}
		d := distance(p, k.side.Field.Pos[j])
		w := 1 / (d*d + 1e-7)
		weight += w
		for c, v := range k.side.FromLab[j] {
			sum[c] += w * v
		}
	}
	if weight == 0 {
		return sum, false
	}
	for c := range sum {
		sum[c] /= weight
	}
	return sum, true
}

// unfolded drops displacements that differ from most of their neighbours by more than smooth skin can.
func unfolded(nodes []node) []node {
	var out []node
	for a := range nodes {
		agree, disagree := 0, 0
		for b := range nodes {
			gap := float64(distance(nodes[a].pos, nodes[b].pos))
			if a == b || gap > 2*slipWindowM {
				continue
			}
			if nodes[a].shift().Sub(nodes[b].shift()).Len() > slipFold*gap+slipStepM {
				disagree++
			} else {
				agree++
			}
		}
		if disagree <= agree {
			out = append(out, nodes[a])
		}
	}
	return out
}

func (n *node) shift() mesh.Vec {
	return n.axis[0].Scale(n.by[0]).Add(n.axis[1].Scale(n.by[1]))
}

// apply replaces partners' colours near the nodes by those at displaced places, each displacement
// weighted by distance, and matches the samples there again. A sample keeps its old partner where the
// new one is worse.
func (k *ink) apply(ctx context.Context, other *ink, nodes []node) error {
	if len(nodes) == 0 {
		return nil
	}
	f := k.side.Field
	pos, normal := make([][3]float32, len(nodes)), make([][3]float32, len(nodes))
	for a, n := range nodes {
		pos[a], normal[a] = n.pos, n.normal
	}
	grid := skin.NewGrid(pos, normal, slipSpreadM)
	moved := make([]bool, f.Len())
	colour := make([][3]float32, f.Len())
	near.Share(ctx, f.Len(), 4096, func(lo, hi int) {
		var list []uint32
		for i := lo; i < hi; i++ {
			if !k.side.Compared[i] || !skinLike(f.Class[i]) {
				continue
			}
			list = grid.Near(f.Pos[i], f.Normal[i], slipSpreadM, list[:0])
			if len(list) == 0 {
				continue
			}
			var shift mesh.Vec
			var weight float64
			for _, a := range list {
				d := float64(distance(f.Pos[i], pos[a])) / slipSpreadM
				w := (1 - d*d) * (1 - d*d)
				shift = shift.Add(nodes[a].shift().Scale(w))
				weight += w
			}
			if weight < 1e-6 {
				continue
			}
			shift = shift.Scale(1 / weight)
			here := newNode(f.Pos[i], f.Normal[i])
			by := [2]float64{shift.Dot(here.axis[0]), shift.Dot(here.axis[1])}
			colour[i], moved[i] = k.displaced(&here, uint32(i), other, by)
		}
	})
	k.slipped = make([][3]float32, f.Len())
	copy(k.slipped, k.side.ToLab)
	for i, m := range moved {
		if m {
			k.slipped[i] = colour[i]
		}
	}
	near.Share(ctx, f.Len(), 4096, func(lo, hi int) {
		var list []uint32
		for i := lo; i < hi; i++ {
			if moved[i] && k.side.DE00[i] >= k.clear {
				list = k.grid.Near(f.Pos[i], f.Normal[i], matchM, list[:0])
				k.rematch(uint32(i), list)
			}
		}
	})
	return ctx.Err()
}
