package obj

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"mien/asset/mesh"
)

// Options says what [Encode] writes besides the mesh.
type Options struct {
	Library string     // the material library to name, "" for none
	Color   [][3]uint8 // of each position, or nil
}

// Encode writes m as OBJ text: positions, texture coordinates, and faces under their materials in the
// mesh's order. Numbers are the shortest that read back as the same float32, so that decoding gives
// the same mesh; v of a texture coordinate is exact to 2e-16. Same arguments give the same bytes.
//
// It returns an error for a mesh that [mesh.Mesh.Check] refuses, one that has no triangles, and a name
// that OBJ cannot hold.
func Encode(w io.Writer, m *mesh.Mesh, o Options) error {
	if err := m.Check(); err != nil {
		return fmt.Errorf("encode OBJ: %w", err)
	}
	if len(m.Tri) == 0 {
		return fmt.Errorf("encode OBJ: no triangles")
	}
	if o.Color != nil && len(o.Color) != len(m.Pos) {
		return fmt.Errorf("encode OBJ: %d colours for %d vertices", len(o.Color), len(m.Pos))
	}
	for _, n := range append([]string{o.Library}, materialNames(m)...) {
		if n != strings.TrimSpace(n) || strings.ContainsAny(n, "\n\r\\\"") {
			return fmt.Errorf("encode OBJ: name %q, allowed are names on one line without quotes and backslashes", n)
		}
	}
	b := bufio.NewWriterSize(w, 256<<10)
	if o.Library != "" {
		fmt.Fprintf(b, "mtllib %s\n", o.Library)
	}
	var line []byte
	for i, p := range m.Pos {
		line = append(line[:0], 'v')
		for _, x := range p {
			line = strconv.AppendFloat(append(line, ' '), float64(x), 'g', -1, 32)
		}
		if o.Color != nil {
			for _, c := range o.Color[i] {
				line = strconv.AppendFloat(append(line, ' '), math.Round(float64(c)/255*1e6)/1e6, 'g', -1, 64)
			}
		}
		b.Write(append(line, '\n'))
	}
	for _, c := range m.UV {
		line = strconv.AppendFloat(append(line[:0], "vt "...), float64(c[0]), 'g', -1, 32)
		line = strconv.AppendFloat(append(line, ' '), 1-float64(c[1]), 'g', -1, 64)
		b.Write(append(line, '\n'))
	}
	last := -1
	for t, tri := range m.Tri {
		if k := m.MaterialOf(t); k != last && k < len(m.MaterialSet) {
			fmt.Fprintf(b, "usemtl %s\n", m.MaterialSet[k].Name)
			last = k
		}
		line = append(line[:0], 'f')
		for k, i := range tri {
			line = strconv.AppendUint(append(line, ' '), uint64(i)+1, 10)
			if m.TriUV != nil {
				line = strconv.AppendUint(append(line, '/'), uint64(m.TriUV[t][k])+1, 10)
			}
		}
		b.Write(append(line, '\n'))
	}
	return b.Flush()
}

func materialNames(m *mesh.Mesh) (out []string) {
	for _, s := range m.MaterialSet {
		out = append(out, s.Name)
	}
	return out
}
