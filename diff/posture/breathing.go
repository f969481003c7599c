package posture

import (
	"mien/asset/mesh"
	"mien/asset/terms"
)

// The breathing mode moves the rib cage along its normal, between the waist and the collar bones, more
// in front and at the sides than at the spine. Quiet breathing moves it by 3 to 5 mm (trade fact); what
// is farther than this bound is no breath.
const maxBreathM = 0.008

// ribs is the frame in which the breathing mode has its shape: heights run from 0 at the hips to 1 at
// the neck joint, in the new scan.
type ribs struct {
	foot, up mesh.Vec
	front    mesh.Vec
	heightM  float64
	ok       bool
}

// newRibs finds the frame from the joints in the new scan; ok is false without hips and neck.
func (f *figure) newRibs(pivots []mesh.Vec) (r ribs) {
	l, h, n := f.of[terms.LegUpperLeft], f.of[terms.LegUpperRight], f.of[terms.Head]
	if l <= 0 || h <= 0 || n <= 0 {
		return r
	}
	r.foot = pivots[l].Add(pivots[h]).Scale(0.5)
	d := pivots[n].Sub(r.foot)
	r.up, r.heightM = d.Unit(), d.Len()
	r.front = pivots[l].Sub(pivots[h]).Cross(r.up).Unit()
	r.ok = r.heightM > 0.2
	return r
}

// height returns p's height, 0 at the hips, 1 at the neck joint.
func (r *ribs) height(p mesh.Vec) float64 { return p.Sub(r.foot).Dot(r.up) / r.heightM }

// shape returns the breathing mode at a point with outward normal n that the trunk holds by rootShare:
// 1 at the fullest place of the chest's front, 0 away from the rib cage.
func (r *ribs) shape(p, n mesh.Vec, rootShare float64) float64 {
	if !r.ok || rootShare == 0 {
		return 0
	}
	u := r.height(p)
	rise := smoothStep((u - 0.20) / 0.30)
	fall := 1 - smoothStep((u-0.60)/0.25)
	back := smoothStep((n.Dot(r.front) + 1) / 1.2) // 0 at the spine, 1 from the sides on
	return rootShare * rise * fall * (0.3 + 0.7*back)
}
