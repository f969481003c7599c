package obj

import (
	"fmt"
	"math"
	"strings"

	"mien/asset/soup"
)

// over are statements that say nothing about the surface.
var over = map[string]bool{"g": true, "o": true, "s": true, "vp": true, "mg": true, "lod": true, "bevel": true, "c_interp": true,
	"d_interp": true, "shadow_obj": true, "trace_obj": true, "usemap": true, "maplib": true, "vn": true}

// shapes are points, lines and free-form curves and surfaces.
var shapes = map[string]bool{"p": true, "l": true, "curv": true, "curv2": true, "surf": true}

// freeForm are statements that belong to free-form shapes.
var freeForm = map[string]bool{"cstype": true, "deg": true, "bmat": true, "step": true, "parm": true, "trim": true, "hole": true,
	"scrv": true, "sp": true, "end": true, "con": true, "ctech": true, "stech": true}

// statement reads a line that is none of the frequent ones.
func (p *parser) statement(b []byte, i int) (int, error) {
	line := p.line
	end := p.skip(b, i)
	text := string(b[i:end])
	if p.line > line {
		text = strings.NewReplacer("\\\r\n", " ", "\\\n", " ").Replace(text)
	}
	text = strings.TrimRight(text, " \t\r")
	key, rest := text, ""
	if k := strings.IndexAny(text, " \t"); k >= 0 {
		key, rest = text[:k], strings.TrimSpace(text[k:])
	}
	switch {
	case key == "usemtl":
		return end, p.use(rest)
	case key == "mtllib":
		if rest != "" {
			p.libraries = append(p.libraries, rest)
		}
	case shapes[key]:
		p.left++
	case over[key] || freeForm[key]:
	case key == "f" || key == "v" || key == "vt":
		return end, p.fault(line, "%s: nothing follows", key)
	case isLetter(key[0]):
		if p.unknown.count == 0 {
			p.unknown.line, p.unknown.word = line, word([]byte(key), 0)
		}
		p.unknown.count++
	default:
		return end, p.fault(line, "line begins with %q, allowed are keywords", word([]byte(key), 0))
	}
	return end, nil
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

// use says which material later faces have. Faces before the first have none.
func (p *parser) use(name string) error {
	name = unquote(name)
	if len(p.materials) == 0 {
		p.materials = append(p.materials, "")
		p.material[""] = 0
	}
	k, ok := p.material[name]
	if !ok {
		k = len(p.materials)
		if k >= soup.MaxMaterials {
			return &UnsupportedError{p.name, fmt.Sprintf("more than %d materials", k)}
		}
		p.materials = append(p.materials, name)
		p.material[name] = k
	}
	p.soup.SetMaterial(k)
	return nil
}

func unquote(s string) string {
	if len(s) >= 2 && s[0] == '"' && s[len(s)-1] == '"' {
		return s[1 : len(s)-1]
	}
	return s
}

// noColor marks a position without a colour among others that have one; it becomes white.
var noColor = [3]float32{-1, -1, -1}

// paint sets the colour of the last position.
func (p *parser) paint(c [3]float32) {
	for len(p.color) < len(p.soup.Pos)-1 {
		p.color = append(soup.Room(p.color), noColor)
	}
	p.color = append(soup.Room(p.color), c)
}

// setColor turns colours into bytes. They are fractions of 1, or of 255 when one is greater than 1.
func (p *parser) setColor() {
	if p.color == nil {
		return
	}
	top := float32(1)
	for _, c := range p.color {
		if max(c[0], c[1], c[2]) > 1 {
			top = 255
			break
		}
	}
	p.soup.Color = make([][3]uint8, len(p.color))
	for i, c := range p.color {
		if c == noColor {
			p.soup.Color[i] = [3]uint8{255, 255, 255}
			continue
		}
		for k, x := range c {
			p.soup.Color[i][k] = uint8(math.Round(255 * float64(min(max(x/top, 0), 1))))
		}
	}
}

// notes says what was read over.
func (p *parser) notes() (out []string) {
	if p.left > 0 {
		out = append(out, fmt.Sprintf("%d points, lines or free-form shapes left out", p.left))
	}
	if p.rounded > 0 {
		out = append(out, fmt.Sprintf("%d vertices have a weight, which is not applied", p.rounded))
	}
	if p.unknown.count > 0 {
		out = append(out, fmt.Sprintf("%d lines with a keyword that is not read, first %q in line %d", p.unknown.count, p.unknown.word, p.unknown.line))
	}
	return out
}
