package posture

import (
	"mien/asset/body"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// blend is the band around a joint in which the skin passes from the parent's motion to the child's.
type blend struct {
	dir  mesh.Vec // unit, across the band towards the child, in the new scan
	at   float64  // middle of the band along dir, from the joint, metres
	half float64  // half its width, metres
}

const (
	maxHold      = 4   // limbs that can hold one vertex
	gateInner    = 2.2 // within so many limb radii of the bone, skin of the parent follows the child
	gateOuter    = 3.4 // beyond so many it does not
	smoothRounds = 2   // of the weights over neighbouring vertices
)

// hold is the share that each of up to four limbs has in the motion of a vertex; shares sum to 1.
type hold struct {
	limb  [maxHold]uint8
	share [maxHold]float32
	n     uint8
}

func (h *hold) add(limb int, w float64) {
	if w < 1e-4 {
		return
	}
	for k := uint8(0); k < h.n; k++ {
		if int(h.limb[k]) == limb {
			h.share[k] += float32(w)
			return
		}
	}
	if h.n < maxHold {
		h.limb[h.n], h.share[h.n] = uint8(limb), float32(w)
		h.n++
	}
}

func (h *hold) normalise() {
	var s float32
	for k := uint8(0); k < h.n; k++ {
		s += h.share[k]
	}
	if s == 0 {
		*h = hold{n: 1, share: [maxHold]float32{1}}
		return
	}
	for k := uint8(0); k < h.n; k++ {
		h.share[k] /= s
	}
}

// of returns limb i's share.
func (h *hold) of(i int) float64 {
	for k := uint8(0); k < h.n; k++ {
		if int(h.limb[k]) == i {
			return float64(h.share[k])
		}
	}
	return 0
}

func smoothStep(t float64) float64 {
	t = min(max(t, 0), 1)
	return t * t * (3 - 2*t)
}

// follow returns how far a point moves with limb i rather than with its parent, 0..1, given that the
// point's label puts it on limb i's side (own) or on the parent's.
func (f *figure) follow(i int, p, pivot mesh.Vec, own bool) float64 {
	l := &f.limbs[i]
	d := p.Sub(pivot)
	w := smoothStep((d.Dot(l.blend.dir)-l.blend.at)/(2*l.blend.half) + 0.5)
	if own || w == 0 {
		return w
	}
	off := d.Sub(l.axisNew.Scale(max(d.Dot(l.axisNew), 0))).Len()
	return w * (1 - smoothStep((off/l.radiusM-gateInner)/(gateOuter-gateInner)))
}

// holds returns the shares of every vertex in m, whose labels say which limb a vertex belongs to and
// whose joints lie at pivots (the new frame). Unlabelled vertices move with the root.
func (f *figure) holds(m *mesh.Mesh, pivots []mesh.Vec) []hold {
	out := make([]hold, len(m.Pos))
	for v := range m.Pos {
		out[v] = f.holdAt(m, v, pivots)
	}
	return out
}

func (f *figure) holdAt(m *mesh.Mesh, v int, pivots []mesh.Vec) (h hold) {
	p := m.At(uint32(v))
	at := 0
	if s, ok := body.SegmentOf(m.Label[v]); !ok {
		h.add(0, 1)
		return h
	} else if f.of[s] >= 0 {
		at = f.of[s]
	}
	var out [terms.SegmentCount]float64 // what the limbs that hang on this one take
	var sum float64
	for i := at + 1; i < len(f.limbs); i++ {
		if f.limbs[i].parent == at {
			out[i] = f.follow(i, p, pivots[i], false)
			sum += out[i]
		}
	}
	for i := at + 1; i < len(f.limbs) && sum > 0; i++ {
		h.add(i, out[i]/max(sum, 1))
	}
	left := 1 - min(sum, 1)
	for i := at; i > 0; i = f.limbs[i].parent {
		w := f.follow(i, p, pivots[i], true)
		h.add(i, left*w)
		left *= 1 - w
	}
	h.add(0, left)
	h.normalise()
	return h
}

// smoothHolds averages the shares of neighbouring vertices, so that the gates and the borders of the
// labels leave no steps.
func smoothHolds(m *mesh.Mesh, in []hold) []hold {
	type sum struct {
		w [maxHold + 2]float32
		l [maxHold + 2]uint8
		n uint8
	}
	for range smoothRounds {
		acc := make([]sum, len(in))
		put := func(v uint32, h *hold) {
			a := &acc[v]
		next:
			for k := uint8(0); k < h.n; k++ {
				for q := uint8(0); q < a.n; q++ {
					if a.l[q] == h.limb[k] {
						a.w[q] += h.share[k]
						continue next
					}
				}
				if int(a.n) < len(a.l) {
					a.l[a.n], a.w[a.n] = h.limb[k], h.share[k]
					a.n++
				}
			}
		}
		for _, t := range m.Tri {
			for k := 0; k < 3; k++ {
				put(t[k], &in[t[(k+1)%3]])
				put(t[k], &in[t[k]])
			}
		}
		out := make([]hold, len(in))
		for v := range out {
			a := &acc[v]
			if a.n == 0 {
				out[v] = in[v]
				continue
			}
			for q := uint8(0); q < a.n; q++ {
				out[v].add(int(a.l[q]), float64(a.w[q]))
			}
			out[v].normalise()
		}
		in = out
	}
	return in
}
