// Package near finds the exact closest point of a triangle mesh: an implicit eight-way tree of boxes
// over triangles sorted along a Hilbert curve. An index is read-only after Build and may be shared by
// any number of goroutines. Answers depend on the mesh and the point only: never on the order of the
// search, the number of goroutines or the instruction set.
//
// A search has two stages. Float32 kernels over eight boxes or eight triangles at a time (in vector
// instructions where the processor has them) find every triangle that can be the closest one, with
// room for their own rounding; those few are then measured in float64.
package near

import (
	"errors"
	"math"
	"sync"

	"mien/asset/mesh"
)

// ErrNoSurface is returned by [Build] for a mesh without a triangle.
var ErrNoSurface = errors.New("mesh has no triangles")

// Feature is the part of a triangle that a closest point lies on.
type Feature uint8

// Features. Edges and corners count from the triangle's first corner.
const (
	Face Feature = iota
	Edge01
	Edge12
	Edge20
	Corner0
	Corner1
	Corner2
)

// Hit is the closest point of a mesh. The point is (1-Bary[0]-Bary[1])*a + Bary[0]*b + Bary[1]*c for
// the corners a, b, c of triangle Tri; weights lie in 0..1.
type Hit struct {
	Tri   uint32
	On    Feature
	Bary  [2]float64
	Pos   mesh.Vec // metres
	DistM float64  // never negative
}

// fan is the number of triangles in a leaf and of boxes in a node: what one vector register holds.
const fan = 8

// node holds the bounds of up to eight children, one array per bound so that all eight can be tested
// at once. A missing child has an empty box.
type node struct {
	lo, hi [3][fan]float32
}

// leaf holds the corners of eight triangles: corner[3*k+axis][i] of corner k of triangle i. The last
// leaf repeats the last triangle.
type leaf struct {
	corner [9][fan]float32
}

// Index answers closest-point queries on one mesh.
type Index struct {
	tri   []uint32  // triangle number by place along the curve
	leaf  []leaf    // its corners
	slack []float32 // by leaf: what the float32 kernel may overstate a distance by, metres
	level [][]node  // level[0] bounds the leaves; the last level is one node

	reachM float64 // greatest coordinate, without its sign
	edgeM  float64 // mean size of a leaf box, metres

	vectors bool      // whether the kernels run in vector instructions
	idle    sync.Pool // of *searcher
}

// maxReachM bounds the coordinates for which the float32 kernels cannot overflow. Points and meshes
// beyond it are searched triangle by triangle.
const maxReachM = 1e8

// Closest returns the closest point of the mesh within maxM metres of p; maxM 0 means no limit. ok is
// false when there is none. Of triangles at equal distance the one with the lowest number is taken,
// and of equal features of one triangle the first of edge 01, edge 12, edge 20, face.
//
// Accuracy: the distance is that to a real point of the triangle and never too small but for float64
// rounding; needle-thin triangles included.
//
// Cost: for many points [Index.ClosestAll] takes a fraction of the time a point.
func (ix *Index) Closest(p mesh.Vec, maxM float64) (Hit, bool) {
	s := ix.searcher()
	defer ix.idle.Put(s)
	return s.single(p, limit(maxM))
}

// limit turns the caller's 0 for no limit into infinity.
func limit(maxM float64) float64 {
	if maxM > 0 {
		return maxM
	}
	return math.Inf(1)
}

// Order returns the triangle numbers along the space-filling curve: triangles that follow each other
// lie close together. The caller must not change the slice.
func (ix *Index) Order() []uint32 { return ix.tri }
