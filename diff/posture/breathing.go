package posture

import (
	"mien/asset/mesh"
	"mien/asset/terms"
)

// The breathing mode moves the rib cage along its normal, between the waist and the collar bones, and the
// belly below it by less, the more the farther a place lies in front of the spine. Quiet breathing moves it by 3 to 5 mm (trade fact); what
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

// shape returns the breathing mode at a point that the trunk holds by rootShare:
// 1 at the fullest place of the chest's front, 0 away from the rib cage.
func (r *ribs) shape(p mesh.Vec, rootShare float64) float64 {
	if !r.ok || rootShare == 0 {
		return 0
	}
	u := r.height(p)
	depth := p.Sub(r.foot).Dot(r.front) / r.heightM
	chest := smoothStep((u-0.30)/0.25) * (1 - smoothStep((u-0.68)/0.18))
	belly := 0.4 * smoothStep((u-0.10)/0.15) * (1 - smoothStep((u-0.32)/0.16))
	return rootShare * (chest + belly) * (0.2 + 0.8*smoothStep((depth+0.15)/0.27))
}
