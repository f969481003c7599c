package gltf

import (
	"encoding/json"
	"net/url"
	"strings"
)

// References returns the relative names of the files that the glTF JSON text data refers to, in order
// of first mention, each once, percent-encoding undone. Embedded data is no reference. A text that is
// no glTF refers to nothing.
func References(data []byte) []string {
	var d struct {
		Buffers []struct{ URI string }
		Images  []struct{ URI string }
	}
	if json.Unmarshal(data, &d) != nil {
		return nil
	}
	var out []string
	seen := map[string]bool{}
	for _, r := range append(d.Buffers, d.Images...) {
		if r.URI == "" || strings.HasPrefix(r.URI, "data:") {
			continue
		}
		name, err := url.PathUnescape(r.URI)
		if err != nil || seen[name] {
			continue
		}
		seen[name] = true
		out = append(out, name)
	}
	return out
}
