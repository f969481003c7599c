// Package check judges the quality of one take by itself: is the mesh sound, in metres, upright and
// right way out, do its texture coordinates and textures belong together, is there something in it
// that is no part of the person. What can only be seen against the last scan is elsewhere.
package check

import (
	"context"
	"fmt"

	"mien/asset"
	"mien/asset/scan"
)

// Severity says what an issue asks for.
type Severity string

// Severities.
const (
	Note   Severity = "note"   // worth knowing
	Warn   Severity = "warn"   // a person should look
	Refuse Severity = "refuse" // of no use as it is
)

// Issue is one thing found. Codes are fixed words; Message is one lower-case sentence of all of it.
type Issue struct {
	Code     string   `json:"code"`
	Severity Severity `json:"severity"`
	Part     string   `json:"part"` // of the file: mesh, uv, texture "skin", ...
	Got      string   `json:"got"`
	Allowed  string   `json:"allowed"`
	Message  string   `json:"message"`
}

func issue(code string, sev Severity, part, got, allowed, format string, a ...any) Issue {
	return Issue{Code: code, Severity: sev, Part: part, Got: got, Allowed: allowed, Message: fmt.Sprintf(format, a...)}
}

// Worst returns the highest severity among issues, "" when there are none.
func Worst(issues []Issue) Severity {
	rank := map[Severity]int{Note: 1, Warn: 2, Refuse: 3}
	var w Severity
	for _, i := range issues {
		if rank[i.Severity] > rank[w] {
			w = i.Severity
		}
	}
	return w
}

// Take returns the issues of one take, mesh before coordinates before textures, in a fixed order. A
// sound scan has none above [Note]. It returns an error only when ctx is cancelled.
//
// Expected sizes and shapes go by the take's part: a body stands 1.2 to 2.3 m tall and is closed or
// nearly so, a head with its neck is 0.16 to 0.55 m tall and open below. Cost: O(n log n).
func Take(ctx context.Context, s *scan.Scan) ([]Issue, error) {
	if s.Mesh == nil || len(s.Mesh.Tri) == 0 {
		return []Issue{issue("mesh-empty", Refuse, "mesh", "0 triangles", "at least 1", "mesh has no triangles")}, nil
	}
	if err := s.Mesh.Check(); err != nil {
		return []Issue{issue("mesh-broken", Refuse, "mesh", err.Error(), "finite numbers and indices in range", "mesh: %v", err)}, nil
	}
	v := &viewer{s: s, m: s.Mesh}
	v.measure()
	var out []Issue
	for _, step := range []func() []Issue{v.size, v.axes, v.faces, v.edges, v.pieces, v.winding, v.foreign, v.membranes, v.coordinates, v.textures} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out = append(out, step()...)
	}
	return out, nil
}

// Content returns a hash of a take's decoded geometry and pixels. Takes with equal content are the
// same recording under whatever names and containers.
func Content(s *scan.Scan) asset.Hash { return contentHash(s) }

// Repeats returns an issue for every take of the list whose content another one before it has too.
func Repeats(takes []*scan.Scan) []Issue {
	first := map[asset.Hash]string{}
	var out []Issue
	for _, s := range takes {
		h := Content(s)
		if name, ok := first[h]; ok {
			out = append(out, issue("content-repeated", Warn, s.Name, "content "+h.Short(), "content of its own",
				"%s: same content as %s", s.Name, name))
			continue
		}
		first[h] = s.Name
	}
	return out
}
