package gltf

import "mien/asset/mesh"

// instance is one mesh of the document placed in the world.
type instance struct {
	mesh   int
	matrix [16]float64 // column-major, mesh to world
}

// instances returns the meshes of the scene that the document shows. When that scene has none, the
// first other scene with a mesh stands in for it, else every node, else every mesh where it stands.
func (d *decoder) instances() ([]instance, error) {
	shown := 0
	if d.doc.Scene != nil {
		shown = *d.doc.Scene
		if shown < 0 || shown >= len(d.doc.Scenes) {
			return nil, d.fault("scene %d out of range 0 to %d", shown, len(d.doc.Scenes)-1)
		}
	}
	var order []int
	if shown < len(d.doc.Scenes) {
		order = append(order, shown)
	}
	for s := range d.doc.Scenes {
		if s != shown {
			order = append(order, s)
		}
	}
	var found []instance
	for k, s := range order {
		in, err := d.walk(d.doc.Scenes[s].Nodes)
		if err != nil {
			return nil, err
		}
		switch {
		case len(found) > 0 && len(in) > 0:
			d.note("scene %d also holds meshes (%d), which are not read", s, len(in))
		case len(in) > 0:
			found = in
			if k > 0 {
				d.note("scene %d is empty, scene %d is read", shown, s)
			}
		}
	}
	if len(found) > 0 {
		return found, nil
	}
	isChild := make([]bool, len(d.doc.Nodes))
	for _, n := range d.doc.Nodes {
		for _, c := range n.Children {
			if c >= 0 && c < len(isChild) {
				isChild[c] = true
			}
		}
	}
	var roots []int
	for i := range d.doc.Nodes {
		if !isChild[i] {
			roots = append(roots, i)
		}
	}
	found, err := d.walk(roots)
	if err != nil {
		return nil, err
	}
	if len(found) > 0 {
		d.note("no scene holds a mesh, all nodes are read")
		return found, nil
	}
	for i := range d.doc.Meshes {
		found = append(found, instance{mesh: i, matrix: identity})
	}
	if len(found) > 0 {
		d.note("no node holds a mesh, all meshes are read where they stand")
	}
	return found, nil
}

var identity = [16]float64{1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1}

// walk returns the meshes below the given nodes, depth first in document order.
func (d *decoder) walk(roots []int) ([]instance, error) {
	type visit struct {
		node   int
		matrix [16]float64
	}
	var stack []visit
	push := func(nodes []int, m [16]float64) {
		for i := len(nodes) - 1; i >= 0; i-- {
			stack = append(stack, visit{nodes[i], m})
		}
	}
	push(roots, identity)
	seen := make([]bool, len(d.doc.Nodes))
	var out []instance
	for len(stack) > 0 {
		v := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if v.node < 0 || v.node >= len(seen) {
			return nil, d.fault("node %d out of range 0 to %d", v.node, len(seen)-1)
		}
		if seen[v.node] {
			return nil, d.fault("node %d is reached twice, allowed is a tree", v.node)
		}
		seen[v.node] = true
		n := d.doc.Nodes[v.node]
		m := multiply(v.matrix, n.MatrixOrDefault())
		m = multiply(m, fromTRS(n.Translation, n.RotationOrDefault(), n.ScaleOrDefault()))
		if n.Mesh != nil {
			if *n.Mesh < 0 || *n.Mesh >= len(d.doc.Meshes) {
				return nil, d.fault("node %d: mesh %d out of range 0 to %d", v.node, *n.Mesh, len(d.doc.Meshes)-1)
			}
			placed := m
			if n.Skin != nil {
				placed = identity
				d.note("node %d: skinned mesh, read in its bind pose", v.node)
			}
			out = append(out, instance{*n.Mesh, placed})
		}
		push(n.Children, m)
	}
	return out, nil
}

// multiply returns a*b, column-major.
func multiply(a, b [16]float64) (c [16]float64) {
	for j := 0; j < 4; j++ {
		for i := 0; i < 4; i++ {
			var s float64
			for k := 0; k < 4; k++ {
				s += float64(a[4*k+i] * b[4*j+k])
			}
			c[4*j+i] = s
		}
	}
	return c
}

// fromTRS returns translation * rotation * scale; q is the quaternion x, y, z, w.
func fromTRS(t [3]float64, q [4]float64, s [3]float64) [16]float64 {
	x, y, z, w := q[0], q[1], q[2], q[3]
	return [16]float64{
		(1 - 2*(y*y+z*z)) * s[0], 2 * (x*y + z*w) * s[0], 2 * (x*z - y*w) * s[0], 0,
		2 * (x*y - z*w) * s[1], (1 - 2*(x*x+z*z)) * s[1], 2 * (y*z + x*w) * s[1], 0,
		2 * (x*z + y*w) * s[2], 2 * (y*z - x*w) * s[2], (1 - 2*(x*x+y*y)) * s[2], 0,
		t[0], t[1], t[2], 1,
	}
}

// mirrors reports whether m turns a right hand into a left one.
func mirrors(m [16]float64) bool {
	a := mesh.Vec{m[0], m[1], m[2]}
	b := mesh.Vec{m[4], m[5], m[6]}
	c := mesh.Vec{m[8], m[9], m[10]}
	return a.Cross(b).Dot(c) < 0
}
