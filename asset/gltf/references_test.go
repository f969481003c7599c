package gltf

import (
	"slices"
	"testing"
)

func TestReferencesLeavesOutEmbeddedData(t *testing.T) {
	got := References([]byte(`{"buffers":[{"uri":"head%20one.bin"},{"uri":"data:application/octet-stream;base64,AA=="}],
		"images":[{"uri":"skin.png"},{"uri":"skin.png"},{"bufferView":1}]}`))
	if want := []string{"head one.bin", "skin.png"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
