package near

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"mien/asset/mesh"
)

// Vector instructions and Go give the same bits, but for the fused distances to triangles.
func TestKernelsAgree(t *testing.T) {
	if !hasVectors {
		t.Log("this processor runs the Go kernels only")
	}
	rng := rand.New(rand.NewPCG(3, 9))
	m := soup(rng, 5000)
	fast, slow := build(t, m), build(t, m)
	slow.vectors = false
	for l := range fast.leaf {
		var a, b bounds
		fast.boundLeaf(&fast.leaf[l], &a)
		slow.boundLeaf(&fast.leaf[l], &b)
		if a != b {
			t.Fatalf("leaf %d: bounds %+v and %+v", l, a, b)
		}
	}
	var cell [3][fan]uint32
	for range 20000 {
		for i := range cell {
			for k := range cell[i] {
				cell[i][k] = rng.Uint32N(1 << curveBits)
			}
		}
		var a, b [fan]uint64
		hilberts(&cell, &a)
		hilbertsGo(&cell, &b)
		if a != b {
			t.Fatalf("cells %v: codes %v and %v", cell, a, b)
		}
	}
	var list []int32
	for i := range fast.level[0] {
		list = append(list, int32(i))
	}
	list = list[len(list)-batch:] // the last node is not full
	for range 300 {
		q := make([]point, 1+rng.IntN(groupPoints))
		r2, not := make([]float32, len(q)), make([]int32, len(q))
		for i := range q {
			q[i] = point{rng.Float32()*3 - 1.5, rng.Float32()*3 - 1.5, rng.Float32()*3 - 1.5}
			r2[i], not[i] = rng.Float32(), rng.Int32N(int32(len(fast.leaf)))
		}
		lo, hi := q[0], q[0]
		for k := range hi {
			hi[k] += rng.Float32()
		}
		var a, b [fan]float32
		fast.nodeDist2(&fast.level[0][list[0]], &q[0], &a)
		slow.nodeDist2(&fast.level[0][list[0]], &q[0], &b)
		if a != b || fast.nodeReach(&fast.level[0][list[0]], &lo, &hi, r2[0]) != slow.nodeReach(&fast.level[0][list[0]], &lo, &hi, r2[0]) {
			t.Fatal("nodes differ")
		}
		var x, y crate
		n, o := fast.collect(list, &lo, &hi, 4*r2[0], &x), slow.collect(list, &lo, &hi, 4*r2[0], &y)
		for k := 0; k < 3; k++ {
			if n != o || !slices.Equal(x.lo[k][:n], y.lo[k][:n]) || !slices.Equal(x.hi[k][:n], y.hi[k][:n]) || !slices.Equal(x.leaf[:n], y.leaf[:n]) {
				t.Fatal("collected boxes differ")
			}
		}
		if n == 0 {
			continue
		}
		first, other := make([]int32, len(q)), make([]int32, len(q))
		fast.nearestBoxes(&x, n, q, first)
		slow.nearestBoxes(&x, n, q, other)
		if !slices.Equal(first, other) {
			t.Fatalf("nearest boxes %v and %v", first, other)
		}
		la, oa, lb, ob := make([]int32, 1000), make([]int32, 1000), make([]int32, 1000), make([]int32, 1000)
		pa, da := fast.boxesWithin(&x, n, q, r2, not, la, oa)
		pb, db := slow.boxesWithin(&x, n, q, r2, not, lb, ob)
		if pa != pb || da != db || !slices.Equal(la[:pa], lb[:pa]) || !slices.Equal(oa[:pa], ob[:pa]) {
			t.Fatalf("boxes within: %d pairs for %d points, %d for %d", pa, da, pb, db)
		}
		if pa == 0 {
			continue
		}
		d2, least := make([][fan]float32, pa), slices.Repeat([][fan]float32{far}, len(q))
		fast.pairsDist2(la[:pa], oa[:pa], q, d2, least)
		na, nb := make([]float32, len(q)), make([]float32, len(q))
		fast.least(least, na)
		slow.least(least, nb)
		if !slices.Equal(na, nb) {
			t.Fatal("least distances differ")
		}
		wa, wb := make([]int32, 9000), make([]int32, 9000)
		ga, gb := make([]int32, 9000), make([]int32, 9000)
		ka := fast.within(d2, la[:pa], oa[:pa], na, wa, ga)
		kb := slow.within(d2, la[:pa], oa[:pa], na, wb, gb)
		if ka != kb || !slices.Equal(wa[:ka], wb[:ka]) || !slices.Equal(ga[:ka], gb[:ka]) {
			t.Fatal("triangles within differ")
		}
	}
}

// A float32 distance exceeds the exact one by no more than the search allows for: otherwise the
// closest triangle might be passed over. Needles, caps and faces of no area are where it could.
func TestFloat32StaysWithinTheSlack(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 4))
	n := 120000
	if testing.Short() {
		n = 20000
	}
	m := thin(rng, n)
	for _, vectors := range []bool{true, false} {
		ix := build(t, m)
		ix.vectors = ix.vectors && vectors
		var worst float64
		for l := range ix.leaf {
			// A point on a triangle, near its plane, or at some distance.
			x, y, z := ix.leaf[l].corners(rng.IntN(fan))
			v, w := rng.Float64(), rng.Float64()
			if v+w > 1 {
				v, w = 1-v, 1-w
			}
			off := math.Pow(10, -8+7*rng.Float64()) * float64(rng.IntN(2))
			p := mesh.Vec{
				x.x + v*(y.x-x.x) + w*(z.x-x.x) + off*rng.NormFloat64(),
				x.y + v*(y.y-x.y) + w*(z.y-x.y) + off*rng.NormFloat64(),
				x.z + v*(y.z-x.z) + w*(z.z-x.z) + off*rng.NormFloat64(),
			}
			q, d2, least := []point{narrow(p)}, make([][fan]float32, 1), [][fan]float32{far}
			ix.pairsDist2([]int32{int32(l)}, []int32{0}, q, d2, least)
			for k := 0; k < fan; k++ {
				exact := math.Sqrt(ix.leaf[l].footOn(k, vec{p[0], p[1], p[2]}).d2)
				allowed := exact*relative + float64(ownSlack(&ix.leaf[l], k)+blur(p))
				worst = max(worst, (math.Sqrt(float64(d2[0][k]))-exact)/(allowed-exact))
			}
		}
		t.Logf("vectors %v: at most %.2f of the slack is used", vectors, worst)
		if worst > 1 {
			t.Errorf("vectors %v: a distance is too large by %.2f times the slack", vectors, worst)
		}
	}
}

// ownSlack is the slack of a leaf that holds triangle k alone.
func ownSlack(l *leaf, k int) float32 {
	var one leaf
	for c := range one.corner {
		for i := range one.corner[c] {
			one.corner[c][i] = l.corner[c][k]
		}
	}
	var b bounds
	boundLeafGo(&one, &b)
	return b.slack
}

// The answers are those of measuring every triangle, the same bits with and without vectors, for any number of goroutines, in any company.
func TestSameBitsEverywhere(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 8))
	for name, m := range map[string]*mesh.Mesh{"soup": soup(rng, 4000), "thin": thin(rng, 4000), "sphere": sphere(60, 90, .4, mesh.Vec{1, 2, 3})} {
		fast, slow := build(t, m), build(t, m)
		slow.vectors = false
		at := make([]mesh.Vec, 6000)
		for i := range at {
			at[i] = m.At(uint32(rng.IntN(len(m.Pos)))).Add(mesh.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale([]float64{0, 1e-7, 1e-4, .02, 1}[i%5]))
		}
		point := func(i int) mesh.Vec { return at[i] }
		want, found, err := slow.ClosestAll(ctx, len(at), point, .5)
		if err != nil {
			t.Fatal(err)
		}
		for i := 0; i < len(at); i += 7 {
			if h, ok := slow.searcher().everyTriangle(at[i], .5); h != want[i] || ok != found[i] {
				t.Fatalf("%s, %v: got %+v, of all triangles %+v", name, at[i], want[i], h)
			}
		}
		for _, procs := range []int{1, 2, 5} {
			before := runtime.GOMAXPROCS(procs)
			got, ok, err := fast.ClosestAll(ctx, len(at), point, .5)
			runtime.GOMAXPROCS(before)
			if err != nil || !slices.Equal(got, want) || !slices.Equal(ok, found) {
				t.Fatalf("%s, %d goroutines: answers differ, %v", name, procs, err)
			}
		}
	}
}

// Points and meshes that float32 cannot hold are still answered exactly.
func TestFarOut(t *testing.T) {
	m := sphere(12, 24, 1, mesh.Vec{})
	ix := build(t, m)
	at := []mesh.Vec{{3e9, 0, 0}, {0, math.NaN(), 0}, {0, 0, math.Inf(1)}, {-5e7, 0, 0}, {0, 2, 0}, {0, -1e200, 0}}
	hits, ok, err := ix.ClosestAll(ctx, len(at), func(i int) mesh.Vec { return at[i] }, 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{3e9 - 1, -1, -1, 5e7 - 1, 1, -1} {
		if ok[i] != (want >= 0) || ok[i] && math.Abs(hits[i].DistM-want) > 1e-9*want {
			t.Errorf("%v: %v, %v, want %v", at[i], ok[i], hits[i].DistM, want)
		}
	}
	big := m.Clone()
	for i := range big.Pos {
		for k := range big.Pos[i] {
			big.Pos[i][k] *= 1e12
		}
	}
	if h, ok := build(t, big).Closest(mesh.Vec{0, 2e12, 0}, 0); !ok || math.Abs(h.DistM-1e12) > 1e5 {
		t.Errorf("a mesh of 1e12 m: %v, %+v", ok, h)
	}
}

// Cells that follow each other on the curve share a side.
func TestCurveIsConnected(t *testing.T) {
	const side = 16
	var place [side * side * side][3]uint32
	seen := 0
	for x := uint32(0); x < side; x++ {
		for y := uint32(0); y < side; y++ {
			for z := uint32(0); z < side; z++ {
				c := hilbert(x, y, z)
				if c >= uint64(len(place)) {
					t.Fatalf("cell %d %d %d: code %d", x, y, z, c)
				}
				place[c] = [3]uint32{x, y, z}
				seen++
			}
		}
	}
	for i := 1; i < seen; i++ {
		var step int
		for k := range place[i] {
			d := int(place[i][k]) - int(place[i-1][k])
			step += d * d
		}
		if step != 1 {
			t.Fatalf("codes %d and %d: cells %v and %v", i-1, i, place[i-1], place[i])
		}
	}
}

func TestMemoryPerTriangle(t *testing.T) {
	ix := build(t, sphere(150, 150, 1, mesh.Vec{}))
	bytes := 4*len(ix.tri) + 288*len(ix.leaf) + 4*len(ix.slack)
	for _, l := range ix.level {
		bytes += 192 * len(l)
	}
	if per := float64(bytes) / float64(len(ix.tri)); per > 48 {
		t.Errorf("%.1f bytes a triangle, allowed are 48", per)
	}
}

// thin is n triangles of a few millimetres up to 2 m from the origin: needles and caps down to no height.
func thin(rng *rand.Rand, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := 0; i < n; i++ {
		a := mesh.Vec{rng.Float64()*4 - 2, rng.Float64()*4 - 2, rng.Float64()*4 - 2}
		long := mesh.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Unit()
		high := long.Cross(mesh.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}).Unit()
		l := .003 * math.Pow(10, 2*rng.Float64()-1)
		h := l * math.Pow(10, -7*rng.Float64())
		along := []float64{0, 1, .5, rng.Float64()}[i%4]
		b, c := a.Add(long.Scale(l)), a.Add(long.Scale(l*along)).Add(high.Scale(h))
		corner := []mesh.Vec{a, b, c}
		k := uint32(len(m.Pos))
		for j := range corner {
			p := corner[(j+i/4)%3]
			m.Pos = append(m.Pos, [3]float32{float32(p[0]), float32(p[1]), float32(p[2])})
		}
		m.Tri = append(m.Tri, [3]uint32{k, k + 1, k + 2})
	}
	return m
}
