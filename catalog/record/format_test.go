package record

import (
	"os"
	"strings"
	"testing"
)

// exampleRing seals under the key and nonce of the worked example in FORMAT.md.
type exampleRing struct{}

func exampleKey() (k Key) {
	for i := range k {
		k[i] = byte(i)
	}
	return k
}

func (exampleRing) Seal(_ string, open, body []byte) (Box, error) {
	k := exampleKey()
	box := Box{Key: k.Name()}
	for i := range box.Nonce {
		box.Nonce[i] = byte(0x40 + i)
	}
	box.Data = k.cipher().Seal(nil, box.Nonce[:], pad(body), open)
	return box, nil
}

func (exampleRing) Unseal(_ string, open []byte, box Box) ([]byte, error) {
	return exampleKey().Unseal(open, box)
}

// TestFormatExample checks that the worked example in FORMAT.md is what this package writes, byte by byte.
func TestFormatExample(t *testing.T) {
	doc, err := os.ReadFile("../FORMAT.md")
	if err != nil {
		t.Fatal(err)
	}
	draft := Draft{
		Kind: "sighting.add", Subject: "ath-0147", By: "artist-2", After: []ID{IDOf([]byte("{}"))},
		Open:   map[string]any{"source": "agent", "seen": "2026-09-30"},
		Sealed: map[string]any{"region": "forearm-left", "note": "new ink"},
	}
	text, id, err := Encode(draft, Stamp{Ms: 1790773200123, N: 2, Site: "road-3f9a"}, exampleRing{})
	if err != nil {
		t.Fatal(err)
	}
	e, err := Decode(text, exampleRing{})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"record": string(text),
		"id":     id.String(),
		"path":   e.Path(),
		"sealed": string(e.Sealed),
		"key":    exampleKey().Name(),
	} {
		if !strings.Contains(string(doc), "\n"+want+"\n") && !strings.Contains(string(doc), "`"+want+"`") {
			t.Errorf("FORMAT.md lacks the %s of the example:\n%s", name, want)
		}
	}
}
