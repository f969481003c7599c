package surface

import (
	"context"
	"math"

	"mien/asset/mesh"
	"mien/asset/near"
	"mien/asset/terms"
)

// Options of [Measure]. The zero value of a field means its default.
type Options struct {
	SpacingMm      float64 // mean distance of neighbouring samples; default 4
	MaxPairMm      float64 // farther partners are none; default 60
	MaxFaceDegrees float64 // normals farther apart are no partners; default 60
	ReturnMm       float64 // allowed miss on the way back, besides the distance itself; default 2
	FromIsOld      bool    // From is the old surface, so that signs turn round
}

func (o Options) filled() Options {
	fill := func(v *float64, d float64) {
		if *v <= 0 {
			*v = d
		}
	}
	fill(&o.SpacingMm, 4)
	fill(&o.MaxPairMm, 60)
	fill(&o.MaxFaceDegrees, 60)
	fill(&o.ReturnMm, 2)
	return o
}

// Measure spreads samples evenly over from and finds each one's closest point on to:
//
//	DistMm = +-|p - q|, > 0 where the new surface lies outside the old one
//
// Both meshes are in metres in one frame. One sample stands for SpacingMm squared. Partners on a
// boundary, facing away, of another surface class, or that do not lead back are marked in State and
// keep their distance.
//
// It returns ctx's error when cancelled. Same bits for any GOMAXPROCS.
func Measure(ctx context.Context, from, to *Side, o Options) (*Field, error) {
	o = o.filled()
	f := sample(from, o.SpacingMm)
	f.From, f.To = from.Mesh, to.Mesh
	n := f.Len()
	f.OnTri, f.OnBary, f.OnPos = make([]uint32, n), make([][2]float32, n), make([][3]float32, n)
	f.DistMm, f.State = make([]float32, n), make([]State, n)
	f.OnReg, f.OnCls = make([]uint8, n), make([]uint8, n)

	hits, ok, err := to.Index.ClosestAll(ctx, n, f.at, o.MaxPairMm/1000)
	if err != nil {
		return nil, err
	}
	limit := math.Cos(o.MaxFaceDegrees * math.Pi / 180)
	near.Share(ctx, n, 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if !ok[i] {
				f.State[i] = Far
				continue
			}
			f.pair(i, hits[i], to, o, limit)
		}
	})
	if err := f.wayBack(ctx, hits, from, o); err != nil {
		return nil, err
	}
	return f, ctx.Err()
}

// wayBack marks the partners whose own closest point on from is not near the sample. A miss is at most
// twice the distance, so that nearer partners need no check.
func (f *Field) wayBack(ctx context.Context, hits []near.Hit, from *Side, o Options) error {
	var far []int
	for i := range hits {
		if f.State[i] == Seen && hits[i].DistM*1000 > o.ReturnMm {
			far = append(far, i)
		}
	}
	back, found, err := from.Index.ClosestAll(ctx, len(far), func(k int) mesh.Vec { return hits[far[k]].Pos }, 0)
	if err != nil {
		return err
	}
	for k, i := range far {
		if found[k] && back[k].Pos.Sub(f.at(i)).Len()*1000 > o.ReturnMm+hits[i].DistM*1000 {
			f.State[i] = NoReturn
		}
	}
	return nil
}

// pair fills in the partner of sample i.
func (f *Field) pair(i int, h near.Hit, to *Side, o Options, limit float64) {
	p := f.at(i)
	d := h.DistM * 1000
	if p.Sub(h.Pos).Dot(to.pseudonormal(h)) < 0 {
		d = -d
	}
	if o.FromIsOld {
		d = -d
	}
	f.OnTri[i], f.OnBary[i] = h.Tri, [2]float32{float32(h.Bary[0]), float32(h.Bary[1])}
	f.OnPos[i], f.DistMm[i] = narrow(h.Pos), float32(d)
	f.OnReg[i], f.OnCls[i] = to.region[h.Tri], to.class[h.Tri]

	facing := widen(f.Normal[i]).Dot(to.smoothNormal(h.Tri, h.Bary[0], h.Bary[1]))
	switch {
	case to.onBoundary(h):
		f.State[i] = Border
	case facing < limit:
		f.State[i] = Away
	case unlike(f.Class[i], f.OnCls[i]):
		f.State[i] = Unlike
	}
}

// unlike reports whether two known classes cannot be the same material. Eye and skin meet at the lids,
// where a border may run either side of a sample.
func unlike(a, b uint8) bool {
	if a == b || a == uint8(terms.ClassUnknown) || b == uint8(terms.ClassUnknown) {
		return false
	}
	soft := func(c uint8) bool { return c == uint8(terms.Skin) || c == uint8(terms.EyeClass) }
	return !(soft(a) && soft(b))
}

func (f *Field) at(i int) mesh.Vec { return widen(f.Pos[i]) }

func widen(p [3]float32) mesh.Vec { return mesh.Vec{float64(p[0]), float64(p[1]), float64(p[2])} }

func narrow(p mesh.Vec) [3]float32 {
	return [3]float32{float32(p[0]), float32(p[1]), float32(p[2])}
}
