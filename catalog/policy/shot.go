package policy

import (
	"sort"
	"strings"

	"mien/asset"
	"mien/catalog/fault"
)

// Shot is what one capture shows and how it was held.
type Shot struct {
	Part asset.Part `json:"part"`
	Pose asset.Pose `json:"pose"`
}

func (s Shot) String() string { return string(s.Part) + "/" + string(s.Pose) }

// ParseShot reads "head/neutral"; "head" alone means its neutral pose, "body" alone its a-pose.
func ParseShot(text string) (Shot, error) {
	part, pose, ok := strings.Cut(strings.ToLower(strings.TrimSpace(text)), "/")
	if !ok {
		pose = string(asset.PoseNeutral)
		if part == string(asset.PartBody) {
			pose = string(asset.PoseA)
		}
	}
	if !Word(part) || !Word(pose) {
		return Shot{}, fault.Invalid("shot", "%q: allowed is PART or PART/POSE in lower-case words with hyphens", text)
	}
	return Shot{asset.Part(part), asset.Pose(pose)}, nil
}

// Word reports whether s is a lower-case word: letters, digits and hyphens, a letter first, at most
// 40 characters. Codes, parts, poses, squads and rigs are words.
func Word(s string) bool {
	if s == "" || len(s) > 40 || s[0] < 'a' || s[0] > 'z' || s[len(s)-1] == '-' {
		return false
	}
	for _, r := range s {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return false
		}
	}
	return true
}

// Union returns the shots of all lists, each once, sorted by part and pose.
func Union(lists ...[]Shot) []Shot {
	seen := map[Shot]bool{}
	var out []Shot
	for _, l := range lists {
		for _, s := range l {
			if !seen[s] {
				seen[s] = true
				out = append(out, s)
			}
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].less(out[j]) })
	return out
}

// Minus returns the shots of a that are not in b, in a's order.
func Minus(a, b []Shot) []Shot {
	var out []Shot
	for _, s := range a {
		if !Has(b, s) {
			out = append(out, s)
		}
	}
	return out
}

// Overlap returns the shots of a that are in b, in a's order.
func Overlap(a, b []Shot) []Shot { return Minus(a, Minus(a, b)) }

// Has reports whether s is in list.
func Has(list []Shot, s Shot) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

func (s Shot) less(o Shot) bool {
	if s.Part != o.Part {
		return s.Part < o.Part
	}
	return s.Pose < o.Pose
}
