// Package posture takes the difference of pose between two scans of one person out of the newer one: an
// articulated fit of rigid segments that turn about their joints only, with smooth fixed weights of the
// skin around them, and one bounded breathing mode. Growth is never posture: bones keep their length
// and nothing else may move the skin along its normal.
package posture

import (
	"context"
	"math"

	"mien/asset/body"
	"mien/asset/mesh"
	"mien/asset/near"
	"mien/diff/label"
	"mien/diff/result"
)

// Options of [Fit]; the zero value is the usual fit.
type Options struct {
	OldIndex  *near.Index // closest points of old, if the caller has them
	SpacingMm float64     // of the points that are fitted; 0 = 16
}

// Pose is the difference of pose that [Fit] found.
type Pose struct {
	Joints      []result.Joint // degrees between the new pose and the old, in skeleton order
	BreathingMm float64        // > 0 where the new scan has the fuller chest
	Removed     bool           // false: nothing above the noise, Positions are the new scan's own
	Positions   [][3]float32   // every new vertex in the old pose and frame, metres
	RestMm      float64        // robust root mean square distance that remains, growth set aside
	Share       float64        // of the fitted points with a partner, 0..1
	MovedMm     float64        // greatest distance by which a vertex was moved
	Note        string         // "" or what bears on the answer, such as labels that are an estimate
}

// What counts as a difference of pose. Common practice, no source.
const (
	leastTurnDeg = 0.5
	leastMoveM   = 0.0005 // of the far end of the bone that turned
	leastBreathM = 0.0005
	leastShare   = 0.25 // of the points must find a partner of their kind, else no pose is believed
	leastLabels  = 0.5  // of the vertices must be reached by labels that are carried over
)

// Fit finds the pose difference of newer against old and returns newer's vertices in old's pose. newer
// must already lie in old's frame (metres) by a rigid alignment; joints may differ by some 20 degrees.
//
// Labels say which segment a vertex moves with. If only one mesh has them they are carried over; if
// none has, both are estimated from the shape. A head scan has one joint, between neck and head.
//
// It sees turns of at least about 0.5 degrees. A limb's roll about its own bone is weakly seen and
// stays near zero where hand or foot do not show it. A change that grows the rib cage alone by less
// than 8 mm cannot be told from breath. It returns an error for a mesh without surface or a cancelled
// ctx; a pair that no skeleton fits is no error but a Pose with Removed false and a Note. Arguments
// are not changed. Same bits for any GOMAXPROCS.
//
// Source: articulated closest-point fit after Pellegrini, Schindler, Nardi 2008; point to plane after
// Chen and Medioni 1992; truncated loss with falling scale after Zhou, Park, Koltun 2016 (from memory).
func Fit(ctx context.Context, old, newer *mesh.Mesh, opt Options) (*Pose, error) {
	if opt.SpacingMm == 0 {
		opt.SpacingMm = 16
	}
	ix := opt.OldIndex
	var err error
	if ix == nil {
		if ix, err = near.Build(ctx, old); err != nil {
			return nil, err
		}
	}
	o, n, note, err := labelled(ctx, old, newer, ix)
	if err != nil {
		return nil, err
	}
	if o == nil {
		return still(newer, note), nil
	}
	fig, err := newFigure(o, n)
	if err != nil || len(fig.limbs) < 2 {
		return still(newer, "no joint is present in both scans"), nil
	}
	s := newFitter(fig, o, n, ix, opt.SpacingMm/1000)
	if err := s.solve(ctx, n); err != nil {
		return nil, err
	}
	return s.pose(n, note), nil
}

// still is the answer when no posture can be told.
func still(newer *mesh.Mesh, note string) *Pose {
	return &Pose{Positions: append([][3]float32(nil), newer.Pos...), Note: note}
}

// labelled returns both meshes with region labels, carried over or estimated where they lack them, and
// a note on how; nil meshes and the reason when that cannot be done.
func labelled(ctx context.Context, old, newer *mesh.Mesh, ix *near.Index) (o, n *mesh.Mesh, note string, err error) {
	with := func(m *mesh.Mesh, l []uint8) *mesh.Mesh {
		c := *m
		c.Label = l
		return &c
	}
	switch {
	case old.Label != nil && newer.Label != nil:
		return old, newer, "", nil
	case old.Label != nil:
		l, covered, err := label.Transfer(ctx, old, newer, label.Options{FromIndex: ix})
		if err != nil {
			return nil, nil, "", err
		}
		if covered < leastLabels {
			return nil, nil, "region labels of the old scan reach too little of the new one", nil
		}
		return old, with(newer, l), "region labels carried over from the old scan", nil
	case newer.Label != nil:
		l, covered, err := label.Transfer(ctx, newer, old, label.Options{})
		if err != nil {
			return nil, nil, "", err
		}
		if covered < leastLabels {
			return nil, nil, "region labels of the new scan reach too little of the old one", nil
		}
		return with(old, l), newer, "region labels carried over from the new scan", nil
	}
	l, _, err := body.Estimate(old)
	if err != nil {
		return nil, nil, "no region labels: " + err.Error(), nil
	}
	k, _, err := body.Estimate(newer)
	if err != nil {
		return nil, nil, "no region labels: " + err.Error(), nil
	}
	return with(old, l), with(newer, k), "region labels are an estimate from the shape", nil
}

// pose turns the solved state into the answer.
func (s *fitter) pose(newer *mesh.Mesh, note string) *Pose {
	m := s.f.motions()
	p := &Pose{Note: note}
	p.RestMm, p.Share = s.rest(m)
	if p.Share < leastShare {
		out := still(newer, "the skeleton does not fit: too few points find a partner")
		out.RestMm, out.Share = p.RestMm, p.Share
		return out
	}
	for i := 1; i < len(s.f.limbs); i++ {
		l := &s.f.limbs[i]
		deg := l.turned.vector().Len() * 180 / math.Pi
		p.Joints = append(p.Joints, result.Joint{Name: l.name, Degrees: deg})
		p.Removed = p.Removed || deg >= leastTurnDeg && deg*math.Pi/180*l.lengthM >= leastMoveM
	}
	if math.Abs(s.breath) >= leastBreathM {
		p.BreathingMm = s.breath * 1000
		p.Removed = true
	}
	if !p.Removed {
		p.Positions = append([][3]float32(nil), newer.Pos...)
		return p
	}
	p.Positions, p.MovedMm = s.unpose(newer, m)
	return p
}

// unpose returns every vertex of newer in the old pose, and the greatest movement in millimetres.
func (s *fitter) unpose(newer *mesh.Mesh, m []rigid) (out [][3]float32, movedMm float64) {
	pivots := s.f.pivotsNew()
	hold := smoothHolds(newer, s.f.holds(newer, pivots))
	r := s.f.newRibs(pivots)
	breath := s.breath
	if math.Abs(breath) < leastBreathM {
		breath = 0
	}
	out = make([][3]float32, len(newer.Pos))
	for v := range out {
		p := newer.At(uint32(v))
		q := posed(&hold[v], p, m)
		if breath != 0 {
			b := r.shape(p, hold[v].of(0))
			q = q.Sub(turnedNormal(&hold[v], s.facing[v], m).Scale(breath * b))
		}
		movedMm = max(movedMm, q.Sub(p).Len()*1000)
		out[v] = [3]float32{float32(q[0]), float32(q[1]), float32(q[2])}
	}
	return out, movedMm
}

// rest returns the robust root mean square of the residuals in millimetres and the share of samples
// with a partner.
func (s *fitter) rest(m []rigid) (mm, share float64) {
	var sum, weight float64
	n, all := 0, 0
	for k := range s.samples {
		if s.samples[k].weight == 0 {
			continue
		}
		all++
		if !s.pairs[k].ok {
			continue
		}
		n++
		r := s.residual(k, m)
		w := s.samples[k].weight * s.pairs[k].trust * robust(r, restScaleM)
		sum += w * r * r
		weight += w
	}
	if weight == 0 || all == 0 {
		return 0, 0
	}
	return math.Sqrt(sum/weight) * 1000, float64(n) / float64(all)
}
