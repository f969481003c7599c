package loop

import (
	"fmt"
	"io/fs"
	"path"
	"path/filepath"

	"github.com/goccy/go-yaml"

	"mien/asset"
	"mien/catalog/fault"
	"mien/catalog/policy"
)

// manifestName is the optional file in a delivery that says what its files are.
const manifestName = "delivery.yaml"

// sessionFacts is what a delivery says about the session it comes from. Empty fields are unsaid.
type sessionFacts struct {
	Session  string
	Captured string
	Rig      string
	Stage    asset.Stage
}

// manifest is the content of delivery.yaml.
type manifest struct {
	Session  string `yaml:"session"`
	Captured string `yaml:"captured"`
	Rig      string `yaml:"rig"`
	Stage    string `yaml:"stage"`
	Takes    []struct {
		Subject string   `yaml:"subject"`
		Part    string   `yaml:"part"`
		Pose    string   `yaml:"pose"`
		Take    int      `yaml:"take"`
		Stage   string   `yaml:"stage"`
		Light   string   `yaml:"light"`
		Files   []string `yaml:"files"`
	} `yaml:"takes"`
}

// readManifest reads delivery.yaml and files what it lists.
func (d *delivery) readManifest(folder string, files []delivered, byRel map[string]int, taken []bool, subject string, p *policy.Policy) error {
	name := filepath.Join(folder, manifestName)
	text, err := fs.ReadFile(d.root.FS(), manifestName)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	var m manifest
	if err := yaml.UnmarshalWithOptions(text, &m, yaml.Strict()); err != nil {
		return fault.Invalid(name, "%s", yaml.FormatError(err, false, false))
	}
	d.session = sessionFacts{Session: m.Session, Captured: m.Captured, Rig: m.Rig, Stage: asset.Stage(m.Stage)}
	for i, t := range m.Takes {
		at := fmt.Sprintf("%s: take %d", name, i+1)
		code := t.Subject
		if code == "" {
			code = subject
		}
		shot, err := policy.ParseShot(shotText(t.Part, t.Pose))
		if err != nil {
			return fault.Invalid(at, "%v", err)
		}
		switch {
		case code == "":
			return fault.Invalid(at, "no subject")
		case !knows(p, shot.Part):
			return fault.Invalid(at, "part %q is not in the policy's shot list", t.Part)
		case len(t.Files) == 0:
			return fault.Invalid(at, "no files")
		case t.Stage != "" && asset.Stage(t.Stage).Rank() < 0:
			return fault.Invalid(at, "stage %q, allowed are raw, cleaned, fitted, retouched", t.Stage)
		}
		take := deliveredTake{Subject: code, Shot: shot, Number: max(1, t.Take), Stage: asset.Stage(t.Stage)}
		for _, f := range t.Files {
			k, ok := byRel[path.Clean(f)]
			switch {
			case !fs.ValidPath(path.Clean(f)):
				return fault.Invalid(at, "file %q leaves the folder", f)
			case !ok:
				return fault.Invalid(at, "file %q is not in the delivery", f)
			case taken[k]:
				return fault.Invalid(at, "file %q is listed twice", f)
			}
			taken[k] = true
			g := files[k]
			g.Light = asset.Light(t.Light)
			if g.Kind == asset.KindTexture {
				g.Channel = asset.BaseColor
				stem := path.Base(g.Rel)
				if fields, ok := p.ReadName(stem[:len(stem)-len(path.Ext(stem))]); ok && fields.Channel != "" {
					g.Channel = fields.Channel
				}
			}
			take.Files = append(take.Files, g)
		}
		d.takes = append(d.takes, take)
	}
	return nil
}

func shotText(part, pose string) string {
	if pose == "" {
		return part
	}
	return part + "/" + pose
}

// knows reports whether the shot list has the part.
func knows(p *policy.Policy, part asset.Part) bool {
	for _, r := range p.ShotList {
		if r.Part == part {
			return true
		}
	}
	return false
}
