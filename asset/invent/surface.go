package invent

import (
	"context"
	"errors"
	"fmt"
	"math"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// Usual edge lengths of a part's mesh, mm.
const (
	headGridMm = 2.5
	bodyGridMm = 7
	partGridMm = 3
)

// Materials of an invented surface, by index into its MaterialSet.
const (
	MaterialSkin = iota
	MaterialHair
	MaterialCloth
	MaterialShoeLeft
	MaterialShoeRight
	MaterialEyes
)

var materials = []mesh.Material{
	{Name: "skin", Class: uint8(terms.Skin)}, {Name: "hair", Class: uint8(terms.HairClass)}, {Name: "cloth", Class: uint8(terms.Cloth)},
	{Name: "shoe-left", Class: uint8(terms.Shoe)}, {Name: "shoe-right", Class: uint8(terms.Shoe)}, {Name: "eyes", Class: uint8(terms.EyeClass)},
}

// Surface returns the surface of a part of the person as they look and as a rig captures it.
//
// Parts: body, head, hand-left, hand-right, foot-left, foot-right are parts of the person, open where
// they are cut off; shoe-left and shoe-right are the shoe of the look alone, as a prop. The bodies
// and shoes are closed unless the capture has holes.
//
// Cost: about 0.2 s for a body of 7 mm or a head of 2.5 mm on one core, in proportion to the number of
// vertices (measured, 2026-11).
func (p Person) Surface(ctx context.Context, look Look, capture Capture, part asset.Part) (*Surface, error) {
	if p.base == nil {
		return nil, errors.New("invented person without a body: make one with NewPerson")
	}
	cut, err := p.base.cutOut(part, &look)
	if err != nil {
		return nil, err
	}
	step := capture.GridMm
	if step <= 0 {
		step = cut.stepMm
	}
	var keep func(mesh.Vec) bool
	if cut.edge != nil {
		keep = func(p mesh.Vec) bool { return cut.edge(p) > 0 }
	}
	g, err := newGrid(cut.field, step, capture.GridTurnDeg, capture.GridShift, keep)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", part, err)
	}
	if err := g.follow(ctx, cut.seed); err != nil {
		return nil, fmt.Errorf("%s: %w", part, err)
	}
	k := &casting{person: p, look: look, capture: capture, cut: cut}
	k.rest = g.vertices()
	k.normal = make([]mesh.Vec, len(k.rest))
	for i := range k.rest {
		if i&0xfff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		k.rest[i], k.normal[i] = cut.field.project(k.rest[i], 3)
	}
	k.tri = g.triangles(k.rest)
	k.keepGreatest()
	k.trim(step)
	k.classify()
	k.pose()
	return k.surface(), nil
}

// casting is a surface in the making, in mm.
type casting struct {
	person  Person
	look    Look
	capture Capture
	cut     *cutting

	rest   []mesh.Vec // on the field's surface
	normal []mesh.Vec // of the field
	anchor []mesh.Vec
	facing []mesh.Vec // normals at the anchors
	class  []terms.Class
	region []terms.Region
	cover  []float64
	tri    [][3]uint32

	clean, noisy []mesh.Vec
}

// classify finds for each vertex its anchor on the bare body, its region, class and cover.
func (k *casting) classify() {
	b := k.person.base
	n := len(k.rest)
	k.anchor, k.facing = make([]mesh.Vec, n), make([]mesh.Vec, n)
	k.class, k.region, k.cover = make([]terms.Class, n), make([]terms.Region, n), make([]float64, n)
	for i, p := range k.rest {
		k.anchor[i], k.facing[i] = p, k.normal[i]
		if c := k.cut; c.shoes != nil && c.shoes.value(p) < .4 {
			k.class[i], k.region[i] = terms.Shoe, terms.FootLeft
			if p[0] < 0 {
				k.region[i] = terms.FootRight
			}
			continue
		}
		if c, d := k.cut, b.distance(p); c.loose != nil && d > .05 && c.loose.value(p) < d {
			k.anchor[i], k.facing[i] = b.body.project(p, 12)
			k.class[i], k.region[i] = terms.HairClass, b.region(k.anchor[i])
			if k.look.Cap && b.plan.head.local(p)[2] > 60 {
				k.class[i] = terms.Cloth
				continue
			}
			k.cover[i], _ = b.cover(&k.look, k.anchor[i])
			k.cover[i] *= ramp(34, 3, d)
			continue
		}
		k.region[i] = b.region(p)
		k.cover[i], k.class[i] = b.cover(&k.look, p)
	}
}

// pose moves the vertices into the frame of the capture, with and without noise.
func (k *casting) pose() {
	g := &k.person.base.plan
	motion := g.motions(k.capture.Joints)
	place := turnAbout(mesh.Vec{}, mesh.Vec{0, 1, 0}, k.capture.TurnDeg)
	place.move = k.capture.OffsetM.Scale(1000).Add(mesh.Vec{0, k.cut.liftMm, 0})
	k.clean, k.noisy = make([]mesh.Vec, len(k.rest)), make([]mesh.Vec, len(k.rest))
	for i, p := range k.rest {
		w := g.weights(p)
		out := k.cover[i]
		if k.capture.BreathMm != 0 {
			out += k.capture.BreathMm * g.breath(p, &w)
		}
		p = p.Add(k.normal[i].Scale(out))
		var at, dir mesh.Vec
		for s, share := range w {
			if share > 0 {
				at = at.Add(motion[s].point(p).Scale(share))
				dir = dir.Add(motion[s].dir(k.normal[i]).Scale(share))
			}
		}
		k.clean[i] = place.point(at)
		k.noisy[i] = k.clean[i].Add(place.dir(dir.Unit()).Scale(k.capture.error(k.person.Family, k.rest[i], i)))
	}
	for n := 0; n < k.capture.Smooth; n++ {
		k.smooth(.5)
		k.smooth(-.52)
	}
}

// smooth moves every noisy vertex by a share of the way to the mean of its neighbours; a pair of
// rounds with opposite signs keeps the volume. Rims stay.
//
// Source: Taubin, A signal processing approach to fair surface design, SIGGRAPH 1995.
func (k *casting) smooth(share float64) {
	sum, count := make([]mesh.Vec, len(k.noisy)), make([]float64, len(k.noisy))
	for _, t := range k.tri {
		for c := range t {
			a, b := t[c], t[(c+1)%3]
			sum[a], sum[b] = sum[a].Add(k.noisy[b]), sum[b].Add(k.noisy[a])
			count[a]++
			count[b]++
		}
	}
	for i, open := range k.rim() {
		if count[i] > 0 && !open {
			k.noisy[i] = k.noisy[i].Add(sum[i].Scale(1 / count[i]).Sub(k.noisy[i]).Scale(share))
		}
	}
}

// surface drops the triangles of holes and hands out the result in metres.
func (k *casting) surface() *Surface {
	k.pierce()
	index, n := k.used()
	s := &Surface{
		Mesh: &mesh.Mesh{
			Pos: make([][3]float32, n), Label: make([]uint8, n), Tri: k.tri,
			Material: make([]uint16, len(k.tri)), MaterialSet: append([]mesh.Material(nil), materials...),
		},
		Anchor: make([][3]float32, n), AnchorNormal: make([][3]float32, n), Clean: make([][3]float32, n),
	}
	for t, tri := range k.tri {
		s.Mesh.Material[t] = k.material(tri)
		for c := range tri {
			s.Mesh.Tri[t][c] = index[tri[c]]
		}
	}
	for i := range k.rest {
		j := index[i]
		if j == math.MaxUint32 {
			continue
		}
		s.Mesh.Pos[j], s.Clean[j] = metres(k.noisy[i]), metres(k.clean[i])
		s.Anchor[j] = metres(k.anchor[i])
		f := k.facing[i]
		s.AnchorNormal[j] = [3]float32{float32(f[0]), float32(f[1]), float32(f[2])}
		s.Mesh.Label[j] = uint8(k.region[i])
	}
	apart(s.Mesh.Pos)
	dropUnusedMaterials(s.Mesh)
	return s
}

// apart moves positions of equal bits apart by the least step of a float.
func apart(pos [][3]float32) {
	seen := make(map[[3]float32]bool, len(pos))
	for i := range pos {
		for seen[pos[i]] {
			pos[i][0] = math.Nextafter32(pos[i][0], 9)
		}
		seen[pos[i]] = true
	}
}

// material is that of the class which most corners of a triangle share.
func (k *casting) material(t [3]uint32) uint16 {
	c := k.class[t[0]]
	if d := k.class[t[1]]; d != c && d == k.class[t[2]] {
		c = d
	}
	switch c {
	case terms.HairClass:
		return MaterialHair
	case terms.Cloth:
		return MaterialCloth
	case terms.EyeClass:
		return MaterialEyes
	case terms.Shoe:
		if k.rest[t[0]][0] < 0 {
			return MaterialShoeRight
		}
		return MaterialShoeLeft
	}
	return MaterialSkin
}

// dropUnusedMaterials takes out materials without a triangle; the order of the others stays.
func dropUnusedMaterials(m *mesh.Mesh) {
	used := make([]bool, len(m.MaterialSet))
	for _, k := range m.Material {
		used[k] = true
	}
	to := make([]uint16, len(used))
	var set []mesh.Material
	for k, u := range used {
		if u {
			to[k] = uint16(len(set))
			set = append(set, m.MaterialSet[k])
		}
	}
	m.MaterialSet = set
	for t, k := range m.Material {
		m.Material[t] = to[k]
	}
}

func metres(p mesh.Vec) [3]float32 {
	return [3]float32{float32(p[0] / 1000), float32(p[1] / 1000), float32(p[2] / 1000)}
}

// keepGreatest drops pockets that a coarse grid closes off, so that the surface is one piece.
func (k *casting) keepGreatest() {
	m := mesh.Mesh{Tri: k.tri, Pos: make([][3]float32, len(k.rest))}
	of, n := m.Components()
	if n == 1 {
		return
	}
	size := make([]int, n)
	best := 0
	for _, c := range of {
		size[c]++
	}
	for c := range size {
		if size[c] > size[best] {
			best = c
		}
	}
	kept := k.tri[:0]
	for t, tri := range k.tri {
		if of[t] == best {
			kept = append(kept, tri)
		}
	}
	k.tri = kept
}

// pierce takes away the triangles within a few millimetres of a few points, as a solver leaves gaps.
func (k *casting) pierce() {
	r := newRandom(k.capture.Seed, "holes")
	for n := 0; n < k.capture.Holes; n++ {
		c := k.rest[r.pick(len(k.rest))]
		radius := r.between(4, 8)
		kept := k.tri[:0]
		for _, t := range k.tri {
			if k.rest[t[0]].Sub(c).Len() > radius && k.rest[t[1]].Sub(c).Len() > radius && k.rest[t[2]].Sub(c).Len() > radius {
				kept = append(kept, t)
			}
		}
		k.tri = kept
	}
}

// used numbers the vertices that a triangle uses; MaxUint32 marks the others.
func (k *casting) used() (index []uint32, n int) {
	index = make([]uint32, len(k.rest))
	for _, t := range k.tri {
		for _, i := range t {
			index[i] = 1
		}
	}
	for i, u := range index {
		if u == 0 {
			index[i] = math.MaxUint32
			continue
		}
		index[i] = uint32(n)
		n++
	}
	return index, n
}
