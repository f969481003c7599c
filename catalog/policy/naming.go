package policy

import (
	"fmt"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"mien/asset"
)

// Naming says how file names are read.
type Naming struct {
	Patterns []string            `yaml:"patterns"`
	Channels map[string][]string `yaml:"channels"`
	Parts    map[string][]string `yaml:"parts"`
	Poses    map[string][]string `yaml:"poses"`
}

// Fields is what a file name says. An absent field is "" or 0.
type Fields struct {
	Code    string
	Shot    Shot
	Take    int
	Channel asset.Channel
	Light   asset.Light
	Stage   asset.Stage
	Session string
}

var channels = []asset.Channel{asset.BaseColor, asset.Normal, asset.Roughness, asset.Specular, asset.Height, asset.Mask}

// reader is a compiled naming pattern.
type reader struct {
	re     *regexp.Regexp
	fields []string
}

var placeholder = regexp.MustCompile(`\{([a-z]+)\}`)

// fieldShapes are the expressions that a field of a name may match.
var fieldShapes = map[string]string{
	"code":    `[a-z][a-z0-9]*-[a-z0-9-]*[a-z0-9]|[a-z][a-z0-9]*`,
	"part":    `[a-z][a-z0-9-]*`,
	"pose":    `[a-z][a-z0-9-]*`,
	"take":    `[0-9]{1,4}`,
	"light":   `cross|parallel|unpolarised|delit|unknown`,
	"stage":   `raw|cleaned|fitted|retouched`,
	"session": `[0-9]{4}-[0-9]{2}-[0-9]{2}[a-z]-[a-z0-9-]+`,
	"any":     `.+?`,
}

// compile turns a pattern into a reader of lower-case file stems.
func (n Naming) compile(pattern string) (reader, error) {
	var r reader
	var b strings.Builder
	b.WriteString("^")
	last := 0
	for _, m := range placeholder.FindAllStringSubmatchIndex(pattern, -1) {
		b.WriteString(regexp.QuoteMeta(strings.ToLower(pattern[last:m[0]])))
		name := pattern[m[2]:m[3]]
		shape, ok := fieldShapes[name]
		if name == "channel" {
			shape, ok = strings.Join(n.channelWords(), "|"), true
		}
		if !ok {
			return r, fmt.Errorf("naming pattern %q: unknown field {%s}, allowed are code, part, pose, take, channel, light, stage, session, any", pattern, name)
		}
		b.WriteString("(" + shape + ")")
		r.fields = append(r.fields, name)
		last = m[1]
	}
	b.WriteString(regexp.QuoteMeta(strings.ToLower(pattern[last:])) + "$")
	if !strings.Contains(pattern, "{part}") {
		return r, fmt.Errorf("naming pattern %q: has no {part}", pattern)
	}
	var err error
	r.re, err = regexp.Compile(b.String())
	return r, err
}

// channelWords returns every spelling of every channel, quoted, longest first.
func (n Naming) channelWords() []string {
	var out []string
	for _, c := range channels {
		out = append(out, regexp.QuoteMeta(string(c)))
		for _, w := range n.Channels[string(c)] {
			out = append(out, regexp.QuoteMeta(strings.ToLower(w)))
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return len(out[i]) > len(out[j]) })
	return out
}

// ReadName reads a file's stem: its name without folder and extension. Capitals are ignored and
// blanks count as underscores. ok is false when no pattern fits.
func (p *Policy) ReadName(stem string) (f Fields, ok bool) {
	s := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(stem)), " ", "_")
	for _, r := range p.readers {
		m := r.re.FindStringSubmatch(s)
		if m == nil {
			continue
		}
		return p.fields(r, m[1:]), true
	}
	return Fields{}, false
}

func (p *Policy) fields(r reader, values []string) Fields {
	f := Fields{}
	for i, name := range r.fields {
		v := values[i]
		switch name {
		case "code":
			f.Code = v
		case "part":
			f.Shot.Part = asset.Part(spelled(v, p.Naming.Parts))
		case "pose":
			f.Shot.Pose = asset.Pose(spelled(v, p.Naming.Poses))
		case "take":
			f.Take, _ = strconv.Atoi(v)
		case "channel":
			f.Channel = asset.Channel(spelled(v, p.Naming.Channels))
		case "light":
			f.Light = asset.Light(v)
		case "stage":
			f.Stage = asset.Stage(v)
		case "session":
			f.Session = v
		}
	}
	if f.Shot.Pose == "" {
		f.Shot.Pose = asset.PoseNeutral
	}
	return f
}

// spelled returns the word that v is another spelling of, or v itself.
func spelled(v string, table map[string][]string) string {
	for _, word := range sorted(table) {
		for _, o := range table[word] {
			if strings.EqualFold(o, v) {
				return word
			}
		}
	}
	return v
}
