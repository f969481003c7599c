package picture

import "math"

// occlusion returns, for every oversample by oversample pixels, how much of the sky above the surface
// there is open, from the z-buffer alone: the share of a few directions in which nothing near rises in front of it.
// Perspective pictures get none.
//
// Source: the idea of Shanmugam and Arikan 2007 (ambient occlusion in screen space) [from memory].
func occlusion(s *surface) []float32 {
	w, h := s.w/oversample, s.h/oversample
	out := make([]float32, w*h)
	if !s.proj.ortho {
		for i := range out {
			out[i] = 1
		}
		return out
	}
	const directions, strides = 8, 4
	reach := float64(s.h) / 28 // pixels
	var dx, dy [directions][strides]int
	for d := range directions {
		sin, cos := math.Sincos(2 * math.Pi * (float64(d) + 0.5) / directions)
		for k := range strides {
			r := reach * float64(k+1) / strides
			dx[d][k], dy[d][k] = int(math.Round(r*cos)), int(math.Round(r*sin))
		}
	}
	metre := 1 / s.proj.scale
	inBands(h, func(y0, y1 int) {
		for k := y0 * w; k < y1*w; k++ {
			x, y := k%w*oversample, k/w*oversample
			i := y*s.w + x
			if s.tri[i] < 0 {
				out[k] = 1
				continue
			}
			var horizon [directions]float64
			for d := range directions {
				horizon[d] = -1
				for j := range strides {
					px, py := x+dx[d][j], y+dy[d][j]
					if px < 0 || py < 0 || px >= s.w || py >= s.h || s.tri[py*s.w+px] < 0 {
						continue
					}
					rise := float64(s.key[i] - s.key[py*s.w+px])
					run := reach * float64(j+1) / strides * metre
					if rise < 4*reach*metre { // farther in front is another limb
						horizon[d] = max(horizon[d], rise/math.Hypot(rise, run))
					}
				}
			}
			// A slope raises the horizon on one side as much as it lowers it on the other.
			closed := 0.0
			for d := range directions / 2 {
				closed += max(0, horizon[d]+horizon[d+directions/2])
			}
			out[k] = float32(1 - min(1, 1.2*closed/directions))
		}
	})
	return out
}
