package invent

import (
	"context"
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/asset/texture"
)

// painter gives the colour of every point of one captured surface. Paint is a function of the anchor,
// so that it is the same over captures; slip moves the anchors, light comes last.
type painter struct {
	p    Person
	look Look
	s    *Surface
	cap  *Capture

	tone   texture.Lab
	fine   float32 // strength of detail of about 1 mm: 0 where texels are too coarse for it
	seed   uint32
	anchor [][3]float32 // after slip
	lights [][3]float32 // at each position
	decals []decal
	hair   texture.Lab
	face   faceMarks
	border []bool // positions where materials meet

	// The triangle being painted.
	tri    int
	class  terms.Class
	region terms.Region
	corner [3]uint32
	q, n   [3][3]float32 // anchors after slip, and their normals
	rest   [3][3]float32 // anchors before slip
	mixed  bool          // other materials touch it
	lit    [3][3]float32 // light at the corners
	active []int32       // decals that can reach it
	expose [3]float32    // to the sun
}

func newPainter(p Person, look Look, cap *Capture, s *Surface, texelMm float64) *painter {
	k := &painter{p: p, look: look, s: s, cap: cap, tone: p.skin(), seed: uint32(mix(p.Seed)), tri: -1}
	k.fine = rise(1.7, 0.8, float32(texelMm))
	k.hair = hairTones[p.Hair%hairColours]
	k.face = newFaceMarks(p)
	k.anchor = slipped(p, cap, s)
	k.border = meeting(s.Mesh)
	k.lights = lit(&cap.Light, s)
	for _, ink := range look.Ink {
		if ink.Contrast > 0 && ink.SizeCM > 0 {
			k.decals = append(k.decals, p.drawn(ink, texelMm/10))
		}
	}
	for _, scar := range look.Scars {
		k.decals = append(k.decals, p.scarred(scar, texelMm/10))
	}
	k.decals = append(k.decals, p.moles(texelMm/10)...)
	return k
}

// texel is the painter's brush. What has hard edges is averaged over four places within the texel.
func (k *painter) texel(t int, w, dx, dy [3]float32) [3]float32 {
	if t != k.tri {
		k.take(t)
	}
	if !k.mixed && k.class != terms.Shoe && k.class != terms.Cloth && k.class != terms.EyeClass {
		return k.at(w)
	}
	var sum [3]float32
	for _, o := range [4][2]float32{{-.3, -.3}, {.3, -.3}, {-.3, .3}, {.3, .3}} {
		p := w
		for i := range p {
			p[i] += o[0]*dx[i] + o[1]*dy[i]
		}
		for i, v := range k.at(p) {
			sum[i] += v / 4
		}
	}
	return sum
}

// at returns the linear light of the point of the current triangle with the given corner weights.
func (k *painter) at(w [3]float32) [3]float32 {
	q, rest := weigh(&k.q, w), weigh(&k.rest, w)
	n := weigh(&k.n, w)
	class := k.class
	if k.mixed {
		class = k.p.ClassAt(k.look, rest)
	}
	var c [3]float32
	switch class {
	case terms.HairClass:
		c = k.strands(rest)
	case terms.Cloth:
		c = k.cloth(rest, n)
	case terms.Shoe:
		c = k.shoe(rest, n)
	case terms.EyeClass:
		c = k.eyeball(rest)
	case terms.Stand:
		c = [3]float32{62, 0, 0}
	default:
		c = k.skinAt(q, n, k.expose[0]*w[0]+k.expose[1]*w[1]+k.expose[2]*w[2])
	}
	rgb := texture.LinearFromLab(texture.Lab{float64(c[0]), float64(c[1]), float64(c[2])})
	lit := weigh(&k.lit, w)
	for i := range rgb {
		rgb[i] = max(rgb[i], 0) * lit[i]
	}
	return rgb
}

// take prepares what is common to the points of a triangle.
func (k *painter) take(t int) {
	k.tri = t
	m := k.s.Mesh
	k.class, k.region = terms.Class(m.ClassOf(t)), terms.Region(m.LabelOf(t))
	k.corner = m.Tri[t]
	k.mixed = false
	for j, v := range k.corner {
		k.q[j], k.rest[j], k.n[j] = k.anchor[v], k.s.Anchor[v], k.s.AnchorNormal[v]
		k.mixed = k.mixed || k.border[v]
		k.lit[j] = k.lights[v]
		if k.look.TanDE != 0 {
			k.expose[j] = k.exposure(k.q[j], terms.Region(k.label(v)))
		}
	}
	k.mixed = k.mixed && k.class != terms.Shoe
	k.active = k.active[:0]
	if !k.mixed && k.class != terms.Skin && k.class != terms.ClassUnknown {
		return
	}
	a := vec3(k.q[0])
	size := max(gap(k.q[0], k.q[1]), gap(k.q[1], k.q[2]), gap(k.q[2], k.q[0]))
	for i := range k.decals {
		d := &k.decals[i]
		if far := d.reach + size; a.Sub(d.at.CentreM).Dot(a.Sub(d.at.CentreM)) < far*far {
			k.active = append(k.active, int32(i))
		}
	}
}

// lit returns the factors of the light at every position of a posed surface.
func lit(l *Light, s *Surface) [][3]float32 {
	out := make([][3]float32, len(s.Clean))
	for _, tri := range s.Mesh.Tri {
		a := vec3(s.Clean[tri[0]])
		n := vec3(s.Clean[tri[1]]).Sub(a).Cross(vec3(s.Clean[tri[2]]).Sub(a))
		for _, v := range tri {
			for c := range n {
				out[v][c] += float32(n[c] * 1e6)
			}
		}
	}
	clean := mesh.Mesh{Pos: s.Clean}
	lo, hi, _ := clean.Bounds()
	middle := lo.Add(hi).Scale(.5)
	for v, n := range out {
		out[v] = l.at(single(vec3(n).Unit()), single(vec3(s.Clean[v]).Sub(middle)))
	}
	return out
}

// meeting reports for each position whether triangles of several materials meet there, shoes left out:
// the outline between them is then drawn finer than the triangles are.
func meeting(m *mesh.Mesh) []bool {
	out := make([]bool, len(m.Pos))
	first := make([]uint8, len(m.Pos))
	for t, tri := range m.Tri {
		mark := uint8(m.MaterialOf(t) + 1)
		if terms.Class(m.ClassOf(t)) == terms.Shoe {
			mark = 255
		}
		for _, v := range tri {
			switch {
			case mark == 255 || first[v] == 255:
				first[v], out[v] = 255, false
			case first[v] == 0:
				first[v] = mark
			case first[v] != mark:
				out[v] = true
			}
		}
	}
	return out
}

func (k *painter) label(v uint32) uint8 {
	if k.s.Mesh.Label == nil {
		return 0
	}
	return k.s.Mesh.Label[v]
}

func isSkin(m *mesh.Mesh, t int) bool {
	c := terms.Class(m.ClassOf(t))
	return c == terms.Skin || c == terms.ClassUnknown
}

func weigh(p *[3][3]float32, w [3]float32) [3]float32 {
	return [3]float32{
		w[0]*p[0][0] + w[1]*p[1][0] + w[2]*p[2][0],
		w[0]*p[0][1] + w[1]*p[1][1] + w[2]*p[2][1],
		w[0]*p[0][2] + w[1]*p[1][2] + w[2]*p[2][2],
	}
}

func single(v mesh.Vec) [3]float32 { return [3]float32{float32(v[0]), float32(v[1]), float32(v[2])} }

// slipped returns the anchors that the camera sees at each position: the skin has moved over the body
// by a smooth field within the surface, up to SlipMm, less on the head; forearms also roll.
func slipped(p Person, cap *Capture, s *Surface) [][3]float32 {
	if cap.SlipMm == 0 {
		return s.Anchor
	}
	out := make([][3]float32, len(s.Anchor))
	seed := uint32(mix(cap.Seed ^ 0x51c0))
	r := newRandom(cap.Seed, "roll")
	roll := [2]float64{r.between(-1, 1), r.between(-1, 1)}
	g := &p.base.plan
	for i, q := range s.Anchor {
		const blob = 1 / 0.11
		amount := float32(cap.SlipMm * 0.001)
		region := terms.NoRegion
		if s.Mesh.Label != nil {
			region = terms.Region(s.Mesh.Label[i])
		}
		if region.Segment() == terms.Head {
			amount *= 0.3
		}
		var d mesh.Vec
		for c := range d {
			d[c] = float64(1.2 * amount * speckle(seed+uint32(c), q[0]*blob, q[1]*blob, q[2]*blob))
		}
		n := vec3(s.AnchorNormal[i])
		at := vec3(q)
		if seg := region.Segment(); seg == terms.ArmLowerLeft || seg == terms.ArmLowerRight {
			elbow, wrist := g.elbow, g.wrist
			if seg == terms.ArmLowerRight {
				elbow[0], wrist[0] = -elbow[0], -wrist[0]
			}
			bone := wrist.Sub(elbow)
			t := at.Scale(1000).Sub(elbow).Dot(bone) / bone.Dot(bone)
			along := bone.Unit()
			// Nothing at both ends, so that elbow and hand stay joined to it.
			arc := 1.5 * cap.SlipMm * 0.001 * roll[seg-terms.ArmLowerLeft] * math.Max(0, math.Sin(math.Pi*min(max(t, 0), 1)))
			d = d.Add(along.Cross(n).Scale(arc))
		}
		d = d.Sub(n.Scale(d.Dot(n)))
		if l := d.Len(); l > cap.SlipMm*0.001 {
			d = d.Scale(cap.SlipMm * 0.001 / l)
		}
		out[i] = single(at.Add(d))
	}
	return out
}

// Paint lays out an atlas on the surface's mesh and returns its base colour as the capture records it.
func (p Person) Paint(ctx context.Context, look Look, cap Capture, s *Surface) (*texture.Image, error) {
	size := cap.TexSize
	if size == 0 {
		size = 1024
	}
	if err := layOut(ctx, s.Mesh, s.Clean, size, cap.AtlasSeed, p.Family); err != nil {
		return nil, err
	}
	b, err := bake(ctx, s.Mesh, size, newPainter(p, look, &cap, s, texelMm(s, size)).texel)
	if err != nil {
		return nil, err
	}
	return b.image(cap.Grain, newRandom(cap.Seed, "grain")), nil
}

func vec3(p [3]float32) mesh.Vec { return mesh.Vec{float64(p[0]), float64(p[1]), float64(p[2])} }

// texelMm is the side of a texel on the surface, where the atlas is laid out on size by size texels.
func texelMm(s *Surface, size int) float64 {
	var space, flat float64
	for t, uv := range s.Mesh.TriUV {
		a, b, c := s.Mesh.UV[uv[0]], s.Mesh.UV[uv[1]], s.Mesh.UV[uv[2]]
		flat += math.Abs(float64((b[0]-a[0])*(c[1]-a[1])-(b[1]-a[1])*(c[0]-a[0]))) / 2
		space += triangleArea(s, t)
	}
	if flat == 0 {
		return 0
	}
	return 1000 * math.Sqrt(space/flat) / float64(size)
}
