package diff

import (
	"bytes"
	"slices"

	"mien/asset/mesh"
)

// sameContent reports whether two scans hold the same decoded geometry and pixels, whatever their
// files are called.
func sameContent(a, b *Scan) bool {
	if !a.Hash.IsZero() && a.Hash == b.Hash {
		return true
	}
	m, n := a.Mesh, b.Mesh
	if !slices.Equal(m.Pos, n.Pos) || !slices.Equal(m.Tri, n.Tri) || !slices.Equal(m.UV, n.UV) ||
		!slices.Equal(m.TriUV, n.TriUV) || !slices.Equal(m.Material, n.Material) || len(a.BaseColor) != len(b.BaseColor) {
		return false
	}
	for k, p := range a.BaseColor {
		q := b.BaseColor[k]
		if p == q {
			continue
		}
		if p == nil || q == nil || p.W != q.W || p.H != q.H || !bytes.Equal(p.Pix, q.Pix) {
			return false
		}
	}
	return true
}

// closed reports whether every edge is used twice.
func closed(m *mesh.Mesh) bool {
	if len(m.Tri) == 0 {
		return false
	}
	// Every directed edge must have its opposite. Sums over a mixing function are equal for both
	// directions exactly when they match, but for chance of about 2^-64.
	var sum uint64
	for _, t := range m.Tri {
		for k := 0; k < 3; k++ {
			a, b := t[k], t[(k+1)%3]
			if a < b {
				sum += mix(uint64(a)<<32 | uint64(b))
			} else if a > b {
				sum -= mix(uint64(b)<<32 | uint64(a))
			}
		}
	}
	return sum == 0
}

// mix is the finaliser of splitmix64 (public domain, S. Vigna; constants from memory).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
