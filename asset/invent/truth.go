package invent

import (
	"context"
	"math"
	"slices"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/near"
	"mien/asset/terms"
	"mien/asset/texture"
)

// Change is one true change of a person between two looks, as far as a part shows it.
type Change struct {
	Kind    terms.ItemKind
	Action  terms.Action
	Region  terms.Region // where most of it lies
	AreaCM2 float64      // of surface in rest pose: ink and scars by their mask, the rest where it shows
	PeakMm  float64      // greatest change of shape along the normal, signed; 0 for a change of colour alone
}

// shownMm is the change of shape from which surface counts into the area of a change.
const shownMm = 1.0

// Changes returns what truly changed from an older to a newer look, as a scan of the part would show
// it. Added and altered things are measured on the newer surface, removed ones on the older one. Skin
// that cloth, hair or shoes cover in either look shows nothing.
//
// Accuracy: areas by integration in rest pose without noise, of ink to 1 percent, of the rest to the
// row of triangles along its edge (9 mm on a body). Cost: two surfaces and little more.
func (p Person) Changes(ctx context.Context, older, newer Look, part asset.Part) ([]Change, error) {
	var cap Capture
	if part == asset.PartBody {
		cap.GridMm = 9
	}
	a, err := p.Surface(ctx, older, cap, part)
	if err != nil {
		return nil, err
	}
	b, err := p.Surface(ctx, newer, cap, part)
	if err != nil {
		return nil, err
	}
	t := &truth{p: p, older: older, newer: newer, a: a, b: b}
	t.inks()
	t.scars()
	if err := t.footwear(ctx); err != nil {
		return nil, err
	}
	t.head()
	t.sleeves()
	t.body()
	return t.out, nil
}

type truth struct {
	p            Person
	older, newer Look
	a, b         *Surface // of the older and the newer look
	out          []Change
}

func (t *truth) add(kind terms.ItemKind, action terms.Action, region terms.Region, areaCM2, peakMm float64) {
	if areaCM2 > 0.02 {
		t.out = append(t.out, Change{kind, action, region, areaCM2, peakMm})
	}
}

// work is an artwork's identity: what stays when it is extended or gone over.
func (i Ink) work() Ink {
	i.Extended, i.Contrast, i.ColourInks = 0, 0, false
	return i
}

// drawnInk reports whether an ink leaves any mark.
func (i Ink) drawnInk() bool { return i.Contrast > 0 && i.SizeCM > 0 }

func (t *truth) inks() {
	find := func(list []Ink, ink Ink) (Ink, bool) {
		for _, o := range list {
			if o.work() == ink.work() && o.drawnInk() {
				return o, true
			}
		}
		return Ink{}, false
	}
	for _, ink := range t.newer.Ink {
		if !ink.drawnInk() {
			continue
		}
		before, had := find(t.older.Ink, ink)
		switch {
		case !had:
			t.add(terms.Tattoo, terms.Added, ink.Region, t.cover(t.b, t.p.drawn(ink, 0), nil), 0)
		case before != ink:
			d, e := t.p.drawn(ink, 0), t.p.drawn(before, 0)
			if before.Contrast != ink.Contrast || before.ColourInks != ink.ColourInks {
				t.add(terms.Tattoo, terms.Altered, ink.Region, t.cover(t.b, d, nil), 0)
			} else {
				t.add(terms.Tattoo, terms.Altered, ink.Region, t.cover(t.b, d, &e), 0)
			}
		}
	}
	for _, ink := range t.older.Ink {
		if _, has := find(t.newer.Ink, ink); !has && ink.drawnInk() {
			t.add(terms.Tattoo, terms.Removed, ink.Region, t.cover(t.a, t.p.drawn(ink, 0), nil), 0)
		}
	}
}

func (t *truth) scars() {
	for _, s := range t.newer.Scars {
		if !slices.Contains(t.older.Scars, s) {
			t.add(terms.SkinMark, terms.Added, s.Region, t.cover(t.b, t.p.scarred(s, 0), nil), 0)
		}
	}
	for _, s := range t.older.Scars {
		if !slices.Contains(t.newer.Scars, s) {
			t.add(terms.SkinMark, terms.Removed, s.Region, t.cover(t.a, t.p.scarred(s, 0), nil), 0)
		}
	}
}

// cover integrates a decal, or its difference from another, over skin of s that is bare in both looks.
func (t *truth) cover(s *Surface, d decal, less *decal) float64 {
	var sum float64
	reach := d.reach
	if less != nil {
		reach = max(reach, less.reach)
	}
	eachSkin(s, d.at.CentreM, reach, func(_ int, area float64, q, n [3]float32) {
		w := d.cover(q, n)
		if less != nil {
			w = absf(w - less.cover(q, n))
		}
		if w > 0 && t.bare(q) {
			sum += area * float64(w)
		}
	})
	return sum * 1e4
}

// bare reports whether the skin at an anchor is uncovered in both looks.
func (t *truth) bare(q [3]float32) bool {
	for _, l := range [2]*Look{&t.older, &t.newer} {
		if t.p.ClassAt(*l, q) != terms.Skin {
			return false
		}
		if l.Shoes.Model > 0 && t.p.RegionAt(q).Segment() >= terms.SoleLeft {
			return false
		}
	}
	return true
}

// differs measures how far one altered look shows against the older one on the bare mesh: the area
// where surface moved or became another material, its fullest change and its main region. Only segments
// that within names are looked at.
func (t *truth) differs(altered Look, within func(terms.Segment) bool) (areaCM2, peakMm float64, region terms.Region) {
	var of [terms.RegionCount]float64
	s := t.a
	for i, tri := range s.Mesh.Tri {
		c := terms.Class(s.Mesh.ClassOf(i))
		if c == terms.Shoe || !within(terms.Region(s.Mesh.LabelOf(i)).Segment()) {
			continue
		}
		q := blend3(s.Anchor[tri[0]], s.Anchor[tri[1]], s.Anchor[tri[2]], 1./3, 1./3)
		d := t.p.ShapeChange(t.older, altered, q)
		if math.Abs(d) > math.Abs(peakMm) {
			peakMm = d
		}
		if math.Abs(d) < shownMm && t.p.ClassAt(t.older, q) == t.p.ClassAt(altered, q) {
			continue
		}
		area := triangleArea(s, i)
		areaCM2 += area * 1e4
		of[s.Mesh.LabelOf(i)] += area
	}
	for r := range of {
		if of[r] > of[region] {
			region = terms.Region(r)
		}
	}
	return areaCM2, peakMm, region
}

func triangleArea(s *Surface, t int) float64 {
	tri := s.Mesh.Tri[t]
	a, b, c := vec3(s.Clean[tri[0]]), vec3(s.Clean[tri[1]]), vec3(s.Clean[tri[2]])
	return b.Sub(a).Cross(c.Sub(a)).Len() / 2
}

// step names the action of going from one state to another of which 0 means nothing there.
func step[T comparable](older, newer, nothing T) terms.Action {
	switch {
	case older == nothing:
		return terms.Added
	case newer == nothing:
		return terms.Removed
	}
	return terms.Altered
}

func onHead(s terms.Segment) bool   { return s == terms.Head }
func onArms(s terms.Segment) bool   { return s >= terms.ArmUpperLeft && s <= terms.ArmLowerRight }
func anywhere(s terms.Segment) bool { return true }

func (t *truth) head() {
	if t.older.Hair != t.newer.Hair {
		l := t.older
		l.Hair = t.newer.Hair
		area, peak, _ := t.differs(l, onHead)
		t.add(terms.Hair, step(t.older.Hair, t.newer.Hair, Bald), terms.Scalp, area, peak)
	}
	if t.older.Beard != t.newer.Beard {
		l := t.older
		l.Beard = t.newer.Beard
		_, peak, _ := t.differs(l, onHead)
		t.add(terms.FacialHair, step(t.older.Beard, t.newer.Beard, NoBeard), terms.Chin, t.beardArea(), peak)
	}
	if t.older.Headband != t.newer.Headband {
		l := t.older
		l.Headband = t.newer.Headband
		area, peak, _ := t.differs(l, onHead)
		t.add(terms.Accessory, step(t.older.Headband, t.newer.Headband, false), terms.Forehead, area, peak)
	}
	if t.older.Cap != t.newer.Cap {
		l := t.older
		l.Cap = t.newer.Cap
		area, peak, _ := t.differs(l, onHead)
		t.add(terms.Accessory, step(t.older.Cap, t.newer.Cap, false), terms.Scalp, area, peak)
	}
}

// beardArea is the skin that a beard of any cut covers.
func (t *truth) beardArea() float64 {
	var sum float64
	for i, tri := range t.a.Mesh.Tri {
		if terms.Region(t.a.Mesh.LabelOf(i)).Segment() != terms.Head {
			continue
		}
		q := blend3(t.a.Anchor[tri[0]], t.a.Anchor[tri[1]], t.a.Anchor[tri[2]], 1./3, 1./3)
		h := t.p.base.plan.head.local(millimetres(q))
		if beardLine(mesh.Vec{math.Abs(h[0]), h[1], h[2]}, t.p.Face) > 2 {
			sum += triangleArea(t.a, i)
		}
	}
	return sum * 1e4
}

func (t *truth) sleeves() {
	sleeve := func(list, other []terms.Region, action terms.Action) {
		for _, r := range list {
			if slices.Contains(other, r) {
				continue
			}
			l := t.older
			if action == terms.Removed {
				l.Sleeves = slices.DeleteFunc(slices.Clone(t.older.Sleeves), func(o terms.Region) bool { return o == r })
			} else {
				l.Sleeves = append(slices.Clone(t.older.Sleeves), r)
			}
			area, peak, _ := t.differs(l, onArms)
			t.add(terms.Accessory, action, r, area, peak)
		}
	}
	sleeve(t.newer.Sleeves, t.older.Sleeves, terms.Added)
	sleeve(t.older.Sleeves, t.newer.Sleeves, terms.Removed)
}

func (t *truth) body() {
	if t.older.HeavierMm != t.newer.HeavierMm || t.older.MuscleMm != t.newer.MuscleMm {
		l := t.older
		l.HeavierMm, l.MuscleMm = t.newer.HeavierMm, t.newer.MuscleMm
		area, peak, region := t.differs(l, anywhere)
		t.add(terms.Physique, terms.Altered, region, area, peak)
	}
	tone, kit := 0.0, 0.0
	k := painter{p: t.p, look: t.newer}
	for i, tri := range t.b.Mesh.Tri {
		switch terms.Class(t.b.Mesh.ClassOf(i)) {
		case terms.Skin:
			tone += triangleArea(t.b, i) * float64(k.exposure(t.b.Anchor[tri[0]], terms.Region(t.b.Mesh.LabelOf(i))))
		case terms.Cloth:
			kit += triangleArea(t.b, i)
		}
	}
	if t.older.TanDE != t.newer.TanDE {
		t.add(terms.SkinTone, terms.Altered, terms.ForearmLeft, tone*1e4, 0)
	}
	if t.older.KitColours != t.newer.KitColours {
		t.add(terms.Kit, terms.Altered, terms.Pelvis, kit*1e4, 0)
	}
}

// footwear compares the shoes of each foot. A shoe of another model is changed all over; of the same
// model, where its colour is another.
func (t *truth) footwear(ctx context.Context) error {
	if t.older.Shoes == t.newer.Shoes {
		return nil
	}
	action := step(t.older.Shoes.Model, t.newer.Shoes.Model, 0)
	if t.older.Shoes.Model == 0 && t.newer.Shoes.Model == 0 {
		return nil
	}
	s := t.b
	if action == terms.Removed {
		s = t.a
	}
	before, after := painter{p: t.p, look: t.older}, painter{p: t.p, look: t.newer}
	var area, peak [2]float64
	var other *near.Index
	if t.older.Shoes.Model != t.newer.Shoes.Model {
		against := t.a
		if action == terms.Removed {
			against = t.b
		}
		m := *against.Mesh
		m.Pos = against.Clean
		var err error
		if other, err = near.Build(ctx, &m); err != nil {
			return err
		}
	}
	for i, tri := range s.Mesh.Tri {
		if terms.Class(s.Mesh.ClassOf(i)) != terms.Shoe {
			continue
		}
		foot := 0
		if s.Clean[tri[0]][0] < 0 {
			foot = 1
		}
		if other != nil {
			area[foot] += triangleArea(s, i)
			if hit, ok := other.Closest(vec3(s.Clean[tri[0]]), 0.1); ok && i%4 == 0 {
				peak[foot] = max(peak[foot], hit.DistM*1000)
			}
			continue
		}
		q, n := s.Anchor[tri[0]], s.AnchorNormal[tri[0]]
		if texture.DE00(lab(before.shoe(q, n)), lab(after.shoe(q, n))) > 3 {
			area[foot] += triangleArea(s, i)
		}
	}
	for foot, region := range [2]terms.Region{terms.FootLeft, terms.FootRight} {
		t.add(terms.Footwear, action, region, area[foot]*1e4, peak[foot])
	}
	return nil
}

func lab(c [3]float32) texture.Lab {
	return texture.Lab{float64(c[0]), float64(c[1]), float64(c[2])}
}
