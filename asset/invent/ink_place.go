package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// Placement is a frame on a person's base surface for drawing on the skin. Lengths are in metres, in
// rest pose.
type Placement struct {
	Region  terms.Region
	Round   bool     // unrolled around a bone (limbs, neck); else projected along the normal
	CentreM mesh.Vec // on the base surface
	Normal  mesh.Vec // outward at the centre, across the bone
	Along   mesh.Vec // down a limb, to the subject's left on the trunk and face
	Around  mesh.Vec // Normal x Along
	BoneM   mesh.Vec // the point of the bone beside the centre
	RadiusM float64  // from there to the centre
}

// spotOn says where artwork on a region has its middle: on the ray from a point inside outward.
type spotOn struct {
	from, to mesh.Vec // ends of the bone, mm; equal for a flat place
	share    float64  // along the bone
	out      mesh.Vec // direction of the ray
	along    mesh.Vec // for a flat place
}

// Place returns the frame of artwork on a region, its centre moved along the limb (downward) or, on
// trunk, face, hands and feet, to the subject's left, and around it, in cm along the surface.
func (p Person) Place(region terms.Region, alongCM, aroundCM float64) Placement {
	s := p.spot(region)
	pl := Placement{Region: region}
	if s.from != s.to {
		pl.Round = true
		pl.Along = s.to.Sub(s.from).Unit()
		bone := s.from.Add(s.to.Sub(s.from).Scale(s.share)).Add(pl.Along.Scale(10 * alongCM))
		out := s.out.Sub(pl.Along.Scale(s.out.Dot(pl.Along))).Unit()
		radius := p.surfaceAlong(bone, out).Sub(bone).Len()
		sin, cos := math.Sincos(10 * aroundCM / radius)
		out = out.Scale(cos).Add(out.Cross(pl.Along).Scale(sin))
		centre := p.surfaceAlong(bone, out)
		pl.RadiusM = centre.Sub(bone).Len() / 1000
		pl.CentreM, pl.BoneM, pl.Normal = centre.Scale(.001), bone.Scale(.001), out
		pl.Around = out.Cross(pl.Along)
		return pl
	}
	y := s.out.Cross(s.along).Unit()
	start := s.from.Add(s.along.Scale(10 * alongCM)).Add(y.Scale(10 * aroundCM))
	centre := p.surfaceAlong(start, s.out)
	pl.CentreM, pl.BoneM = centre.Scale(.001), start.Scale(.001)
	pl.Normal = s.out.Unit()
	if n := p.base.normal(centre); n.Dot(pl.Normal) > 0.5 {
		pl.Normal = n
	}
	pl.Along = s.along.Sub(pl.Normal.Scale(s.along.Dot(pl.Normal))).Unit()
	pl.Around = pl.Normal.Cross(pl.Along)
	return pl
}

// Unroll returns the coordinates of an anchor with normal n in the frame, in metres along and around
// the surface; ok is false where the frame does not reach.
func (pl *Placement) Unroll(q, n [3]float32) (along, around float64, ok bool) {
	d := vec3(q).Sub(pl.CentreM)
	if !pl.Round {
		depth := d.Dot(pl.Normal)
		if vec3(n).Dot(pl.Normal) < 0.2 || depth > 0.06 || depth < -0.09 {
			return 0, 0, false
		}
		return d.Dot(pl.Along), d.Dot(pl.Around), true
	}
	d = vec3(q).Sub(pl.BoneM)
	x, y := d.Dot(pl.Normal), d.Dot(pl.Around)
	if r := math.Hypot(x, y); r > 1.5*pl.RadiusM+0.012 || r < 0.4*pl.RadiusM {
		return 0, 0, false
	}
	return d.Dot(pl.Along), math.Atan2(y, x) * pl.RadiusM, true
}

// surfaceAlong returns where the ray from a point inside the body leaves it, in mm.
func (p Person) surfaceAlong(from, dir mesh.Vec) mesh.Vec {
	dir = dir.Unit()
	t := 0.0
	for k := 0; k < 400; k++ {
		d := p.base.distance(from.Add(dir.Scale(t)))
		if d > -0.01 {
			break
		}
		t += max(-d*0.7, 0.05)
	}
	return from.Add(dir.Scale(t))
}

func (p Person) spot(region terms.Region) spotOn {
	g := &p.base.plan
	side := 1.0
	if name := region.String(); len(name) > 6 && name[len(name)-6:] == "-right" {
		side = -1
	}
	onSide := func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0] * side, v[1], v[2]} }
	bone := func(a, b mesh.Vec, share, out, front float64) spotOn {
		return spotOn{from: onSide(a), to: onSide(b), share: share, out: onSide(mesh.Vec{out, 0, front})}
	}
	flat := func(at, out mesh.Vec) spotOn {
		along := mesh.Vec{1, 0, 0}
		if math.Abs(out[0]) > math.Abs(out[2]) {
			along = mesh.Vec{0, -1, 0}
		}
		return spotOn{from: at, to: at, out: out, along: along.Sub(out.Unit().Scale(along.Dot(out.Unit()))).Unit()}
	}
	trunk := func(x, y, out float64) spotOn {
		return flat(g.trunkPoint(x*side, y, 0), mesh.Vec{0, 0, out})
	}
	head := func(x, y, z float64, out mesh.Vec) spotOn {
		return flat(g.head.point(mesh.Vec{x * side, y, z}), onSide(out))
	}
	handIn := func(v mesh.Vec) mesh.Vec { return onSide(g.hand.point(v)) }

	switch region {
	case terms.ShoulderLeft, terms.ShoulderRight:
		return bone(g.shoulder, g.elbow, .08, 1, .25)
	case terms.UpperArmLeft, terms.UpperArmRight:
		return bone(g.shoulder, g.elbow, .5, 1, .35)
	case terms.ElbowLeft, terms.ElbowRight:
		return bone(g.shoulder, g.elbow, .97, .3, -1)
	case terms.ForearmLeft, terms.ForearmRight:
		return bone(g.elbow, g.wrist, .45, .8, .6)
	case terms.WristLeft, terms.WristRight:
		return bone(g.elbow, g.wrist, .93, .8, .6)
	case terms.HandLeft, terms.HandRight:
		s := flat(handIn(mesh.Vec{0, 52, 0}), onSide(g.hand.axis[0]))
		s.along = onSide(g.hand.axis[1])
		return s
	case terms.ThighLeft, terms.ThighRight:
		return bone(g.hip, g.knee, .62, .55, .8)
	case terms.KneeLeft, terms.KneeRight:
		return bone(g.hip, g.knee, .97, .2, 1)
	case terms.ShinLeft, terms.ShinRight:
		return bone(g.knee, g.ankle, .42, .5, .85)
	case terms.CalfLeft, terms.CalfRight:
		return bone(g.knee, g.ankle, .34, .35, -1)
	case terms.AnkleLeft, terms.AnkleRight:
		return bone(g.knee, g.ankle, .86, 1, .1)
	case terms.FootLeft, terms.FootRight:
		s := flat(onSide(g.foot.point(mesh.Vec{4, 30, 70})), mesh.Vec{0, 1, .2})
		s.along = onSide(g.foot.axis[2])
		return s
	case terms.NeckFront:
		return spotOn{from: g.trunkPoint(0, 1640, -14), to: g.trunkPoint(0, 1550, -22), share: .42, out: mesh.Vec{.8, 0, .6}}
	case terms.NeckBack:
		return spotOn{from: g.trunkPoint(0, 1640, -14), to: g.trunkPoint(0, 1550, -22), share: .55, out: mesh.Vec{0, 0, -1}}
	case terms.Abdomen:
		return trunk(0, 1150, 1)
	case terms.BackUpper:
		return trunk(0, 1395, -1)
	case terms.BackLower:
		return trunk(0, 1110, -1)
	case terms.Pelvis:
		return trunk(0, 985, 1)
	case terms.ButtockLeft, terms.ButtockRight:
		return trunk(80, 950, -1)
	case terms.Scalp:
		return head(1, 170, -10, mesh.Vec{1, .25, .1})
	case terms.Forehead:
		return head(0, 172, 30, mesh.Vec{0, .1, 1})
	case terms.BrowLeft, terms.BrowRight:
		return head(30, 142, 30, mesh.Vec{.25, .1, 1})
	case terms.EyeLeft, terms.EyeRight:
		return head(34, 104, 40, mesh.Vec{.3, 0, 1})
	case terms.Nose:
		return head(0, 95, 50, mesh.Vec{0, 0, 1})
	case terms.CheekLeft, terms.CheekRight:
		return head(44, 82, 30, mesh.Vec{.75, 0, .7})
	case terms.Lips:
		return head(0, 49, 50, mesh.Vec{0, 0, 1})
	case terms.Chin:
		return head(0, 16, 50, mesh.Vec{0, -.1, 1})
	case terms.JawLeft, terms.JawRight:
		return head(34, 34, 20, mesh.Vec{.9, 0, .5})
	case terms.EarLeft, terms.EarRight:
		return head(70, 105, -10, mesh.Vec{1, 0, 0})
	}
	return trunk(0, 1375, 1) // the chest
}
