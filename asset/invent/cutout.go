package invent

import (
	"fmt"
	"math"

	"mien/asset"
	"mien/asset/mesh"
)

// cutting is the field of a part and how it is followed.
type cutting struct {
	field  *field                 // what the surface is taken from
	shoes  *field                 // nil when barefoot
	loose  *field                 // free hair and peaks, nil when there are none
	edge   func(mesh.Vec) float64 // about the distance to where the part is cut off, positive on the part; nil for none
	seed   mesh.Vec
	stepMm float64
	liftMm float64 // soles of shoes under the person
}

// dressed returns the cutting of the whole body with the shoes, free hair and peak of a look.
func (b *base) dressed(look *Look) (*cutting, error) {
	g := &b.plan
	if look.Shoes.Model < 0 || look.Shoes.Model > ShoeModels {
		return nil, fmt.Errorf("shoe model %d: allowed are 0 to %d", look.Shoes.Model, ShoeModels)
	}
	c := &cutting{field: b.body, seed: g.trunkPoint(0, 1200, 0), stepMm: bodyGridMm, liftMm: look.Shoes.soleMm() * g.foot.scale}
	ops := append([]op(nil), b.ops...)
	if look.Shoes.Model > 0 {
		shoe := b.shoeOps(look.Shoes.Model, false)
		c.shoes = newField(shoe)
		ops = append(append(ops[:b.feet[0]], b.ops[b.feet[1]:]...), shoe...)
	}
	s := &shaper{place: g.head}
	free := looseShape(s, look)
	if look.Cap {
		peakShape(s)
		free = true
	}
	if free {
		c.loose = newField(s.ops)
		ops = append(ops, s.ops...)
	}
	if c.shoes != nil || c.loose != nil {
		c.field = newField(ops)
	}
	return c, nil
}

// cutOut returns the cutting of a part.
func (b *base) cutOut(part asset.Part, look *Look) (*cutting, error) {
	g := &b.plan
	c, err := b.dressed(look)
	if err != nil {
		return nil, err
	}
	onRight := part == asset.PartHandRight || part == asset.PartFootRight || part == asset.PartShoeRight
	side := func(p mesh.Vec) mesh.Vec {
		if onRight {
			p[0] = -p[0]
		}
		return p
	}
	switch part {
	case asset.PartBody:
	case asset.PartHead:
		c.stepMm, c.seed = headGridMm, g.head.point(mesh.Vec{0, 150, 0})
		base := g.trunkPoint(0, 1546, -8)
		c.edge = func(p mesh.Vec) float64 {
			d := p.Sub(base)
			return .958*d[1] + .287*d[2] - .5*max(0, math.Abs(d[0])-58*g.unit)
		}
	case asset.PartHandLeft, asset.PartHandRight:
		c.stepMm, c.seed = partGridMm, side(g.hand.point(mesh.Vec{0, 50, 0}))
		from := g.wrist.Sub(g.hand.axis[1].Scale(45 * g.unit))
		c.edge = func(p mesh.Vec) float64 { return side(p).Sub(from).Dot(g.hand.axis[1]) }
	case asset.PartFootLeft, asset.PartFootRight:
		c.stepMm, c.seed = partGridMm, side(g.foot.point(mesh.Vec{0, 30, 20}))
		top := g.ankle[1] + 75*g.unit
		c.edge = func(p mesh.Vec) float64 { return top - p[1] }
	case asset.PartShoeLeft, asset.PartShoeRight:
		if look.Shoes.Model == 0 {
			return nil, fmt.Errorf("%s: the look has no shoes", part)
		}
		c.field = newField(b.shoeOps(look.Shoes.Model, true))
		c.shoes = c.field
		c.stepMm, c.seed = partGridMm, side(g.foot.point(mesh.Vec{0, 10, 80}))
	default:
		return nil, fmt.Errorf("part %q: allowed are body, head, hand-left, hand-right, foot-left, foot-right, shoe-left, shoe-right", part)
	}
	return c, nil
}
