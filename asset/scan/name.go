package scan

import (
	"path"
	"slices"
	"strings"

	"mien/asset"
)

// KindOf returns what a file is by its name's extension. A picture counts as a texture.
func KindOf(name string) asset.Kind {
	switch strings.ToLower(path.Ext(name)) {
	case ".glb", ".gltf", ".obj", ".ply":
		return asset.KindMesh
	case ".png", ".jpg", ".jpeg":
		return asset.KindTexture
	case ".mtl":
		return asset.KindMaterial
	}
	return asset.KindOther
}

var channels = []asset.Channel{asset.BaseColor, asset.Normal, asset.Roughness, asset.Specular, asset.Height, asset.Mask}

func parseChannel(word string) (asset.Channel, bool) {
	i := slices.Index(channels, asset.Channel(strings.ToLower(word)))
	if i < 0 {
		return "", false
	}
	return channels[i], true
}

// ChannelOf returns what a texture holds by the last word of its name, `..._<channel>.png`; "" when
// that is no channel.
func ChannelOf(name string) asset.Channel { return channelOr(name, "") }

func channelOr(name string, other asset.Channel) asset.Channel {
	stem := strings.TrimSuffix(path.Base(name), path.Ext(name))
	if c, ok := parseChannel(stem[strings.LastIndexByte(stem, '_')+1:]); ok {
		return c
	}
	return other
}

var parts = []asset.Part{asset.PartHead, asset.PartBody, asset.PartHandLeft, asset.PartHandRight, asset.PartTeeth,
	asset.PartFootLeft, asset.PartFootRight, asset.PartShoeLeft, asset.PartShoeRight}

// partOfName returns the part that one of a file name's words (between underscores) names, and the
// word after it as the pose; both "" when no word does.
func partOfName(name string) (asset.Part, asset.Pose) {
	words := strings.Split(strings.ToLower(strings.TrimSuffix(path.Base(name), path.Ext(name))), "_")
	for i, w := range words {
		if !slices.Contains(parts, asset.Part(w)) {
			continue
		}
		if i+1 < len(words) && words[i+1] != "" && words[i+1][0] >= 'a' && words[i+1][0] <= 'z' {
			return asset.Part(w), asset.Pose(words[i+1])
		}
		return asset.Part(w), ""
	}
	return "", ""
}
