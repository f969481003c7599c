// Package asset says what a scan file is: its content hash, what part of a person it shows and how
// that part was held, what a texture holds, under which light, and how far it has been processed.
//
// The package imports nothing of ours; everything else in the tree may import it.
package asset

import (
	"encoding/hex"
	"fmt"
	"io"
	"strings"

	"github.com/zeebo/blake3"
)

// Hash is the BLAKE3-256 digest of a file's bytes.
type Hash [32]byte

// HashBytes returns the BLAKE3-256 digest of b.
func HashBytes(b []byte) Hash { return blake3.Sum256(b) }

// HashReader returns the digest of all bytes of r and their count. Memory does not grow with r.
func HashReader(r io.Reader) (Hash, int64, error) {
	h := blake3.New()
	n, err := io.CopyBuffer(h, r, make([]byte, 256<<10))
	if err != nil {
		return Hash{}, n, err
	}
	var out Hash
	h.Sum(out[:0])
	return out, n, nil
}

// Hasher hashes what is written to it.
type Hasher struct{ h *blake3.Hasher }

// NewHasher returns a hasher of no bytes.
func NewHasher() *Hasher { return &Hasher{blake3.New()} }

// Write implements [io.Writer]; it gives no error.
func (h *Hasher) Write(b []byte) (int, error) { return h.h.Write(b) }

// Hash returns the digest of the bytes written so far.
func (h *Hasher) Hash() (out Hash) {
	h.h.Sum(out[:0])
	return out
}

// String returns the 64 lower-case hex digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// Short returns the first 12 hex digits, for messages.
func (h Hash) Short() string { return hex.EncodeToString(h[:6]) }

// IsZero reports whether h is unset.
func (h Hash) IsZero() bool { return h == Hash{} }

// MarshalText implements [encoding.TextMarshaler].
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText implements [encoding.TextUnmarshaler].
func (h *Hash) UnmarshalText(b []byte) error {
	v, err := ParseHash(string(b))
	if err == nil {
		*h = v
	}
	return err
}

// ParseHash reads 64 hex digits.
func ParseHash(s string) (Hash, error) {
	var h Hash
	if len(s) != 64 {
		return h, fmt.Errorf("hash %q: %d characters, allowed 64", s, len(s))
	}
	if _, err := hex.Decode(h[:], []byte(strings.ToLower(s))); err != nil {
		return h, fmt.Errorf("hash %q: not hexadecimal", s)
	}
	return h, nil
}

// Kind is what a file is.
type Kind string

// Kinds of file.
const (
	KindMesh     Kind = "mesh"
	KindTexture  Kind = "texture"
	KindMaterial Kind = "material" // an OBJ material library
	KindPhoto    Kind = "photo"
	KindOther    Kind = "other"
)

// Part is what was captured.
type Part string

// Parts that the default shot list uses. A policy may add more; a part is any lower-case
// word with hyphens.
const (
	PartHead      Part = "head"
	PartBody      Part = "body"
	PartHandLeft  Part = "hand-left"
	PartHandRight Part = "hand-right"
	PartTeeth     Part = "teeth"
	PartFootLeft  Part = "foot-left"
	PartFootRight Part = "foot-right"
	PartShoeLeft  Part = "shoe-left"
	PartShoeRight Part = "shoe-right"
)

// Pose is how the part was held: "neutral", "a-pose", or the name of an expression.
type Pose string

// Poses that the default shot list uses.
const (
	PoseNeutral Pose = "neutral"
	PoseA       Pose = "a-pose"
)

// Channel is what a texture holds.
type Channel string

// Channels.
const (
	BaseColor Channel = "base-color"
	Normal    Channel = "normal"
	Roughness Channel = "roughness"
	Specular  Channel = "specular"
	Height    Channel = "height"
	Mask      Channel = "mask"
)

// Light is the light under which a base colour was recorded. Unlike lights give no colour verdict.
type Light string

// Lights.
const (
	LightCross       Light = "cross"
	LightParallel    Light = "parallel"
	LightUnpolarised Light = "unpolarised"
	LightDelit       Light = "delit"
	LightUnknown     Light = "unknown"
)

// Stage is how far the files of a take have been processed.
type Stage string

// Stages, in order of processing.
const (
	StageRaw       Stage = "raw"
	StageCleaned   Stage = "cleaned"
	StageFitted    Stage = "fitted" // to the studio mesh
	StageRetouched Stage = "retouched"
)

// Stages lists the stages in order.
var stages = [...]Stage{StageRaw, StageCleaned, StageFitted, StageRetouched}

// Rank returns the position of s in the order of processing, or -1 for an unknown stage.
func (s Stage) Rank() int {
	for i, v := range stages {
		if v == s {
			return i
		}
	}
	return -1
}

// ParseStage reads a stage name.
func ParseStage(s string) (Stage, error) {
	if Stage(s).Rank() < 0 {
		return "", fmt.Errorf("stage %q: allowed are raw, cleaned, fitted, retouched", s)
	}
	return Stage(s), nil
}
