package main

import (
	"encoding/json"
	"os/exec"
	"strings"
	"testing"
)

// TestImportsGoOneWay holds the plan of the house: what a scan file is (asset) knows nothing of
// comparisons (diff) or catalogs (catalog); those two never see each other; only the loop joins them.
func TestImportsGoOneWay(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "mien/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	dec := json.NewDecoder(strings.NewReader(string(out)))
	n := 0
	for dec.More() {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := dec.Decode(&p); err != nil {
			t.Fatal(err)
		}
		n++
		var sees = map[string]bool{}
		for _, i := range p.Imports {
			rest, ours := strings.CutPrefix(i, "mien/")
			if !ours {
				continue
			}
			room, _, _ := strings.Cut(rest, "/")
			sees[room] = true
			if p.ImportPath == "mien/asset/mesh" {
				t.Errorf("asset/mesh imports %s; it imports nothing of ours", i)
			}
		}
		room, _, _ := strings.Cut(strings.TrimPrefix(p.ImportPath, "mien/"), "/")
		switch {
		case room == "asset" && (sees["diff"] || sees["catalog"] || sees["cmd"]),
			room == "diff" && (sees["catalog"] || sees["cmd"]),
			room == "catalog" && (sees["diff"] || sees["cmd"]):
			t.Errorf("%s imports %v against the one-way rule", p.ImportPath, p.Imports)
		case room == "cmd" && sees["diff"] && sees["catalog"] && p.ImportPath != "mien/cmd/mien/internal/loop":
			t.Errorf("%s imports both diff and catalog; only the loop may", p.ImportPath)
		}
	}
	if n < 20 {
		t.Errorf("looked at %d packages, the house has more", n)
	}
}
