package record

import (
	"bytes"
	"crypto/cipher"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"

	"github.com/zeebo/blake3"
	"golang.org/x/crypto/chacha20poly1305"
)

// ErrNoKey says that the key of a sealed body is not at this site.
var ErrNoKey = errors.New("key is not here")

// Key seals what describes one subject. Destroying it makes every sealed body of the subject unreadable.
type Key [chacha20poly1305.KeySize]byte

// NewKey returns a random key.
func NewKey() Key {
	var k Key
	rand.Read(k[:]) // never fails: it ends the program instead
	return k
}

// Name returns 13 letters that tell keys apart and say nothing about them.
func (k Key) Name() string {
	var out [8]byte
	h := blake3.NewDeriveKey("mien 2026-11 name of a subject key")
	h.Write(k[:])
	h.Digest().Read(out[:])
	return base32Lower.EncodeToString(out[:])
}

// Box is a sealed body as it stands in a record.
type Box struct {
	Key   string // [Key.Name] of the key that opens it
	Nonce [chacha20poly1305.NonceSizeX]byte
	Data  []byte // ciphertext and tag
}

// Sealer encrypts the sealed body of a record about subject; "" is the catalog itself.
// The body cannot be opened unless the same open fields are given.
type Sealer interface {
	Seal(subject string, open, body []byte) (Box, error)
}

// Opener decrypts what a [Sealer] made. It returns [ErrNoKey] where the key is not at this site.
type Opener interface {
	Unseal(subject string, open []byte, box Box) ([]byte, error)
}

// sealStep is the grain of sealed lengths, in bytes: the length of a name must not tell the name.
const sealStep = 64

// Seal encrypts body with XChaCha20-Poly1305 under a random nonce. The body is padded with spaces to a
// multiple of 64 bytes; open is authenticated with it and not encrypted.
func (k Key) Seal(open, body []byte) Box {
	box := Box{Key: k.Name()}
	rand.Read(box.Nonce[:]) // never fails: it ends the program instead
	box.Data = k.cipher().Seal(nil, box.Nonce[:], pad(body), open)
	return box
}

func pad(body []byte) []byte {
	padded := bytes.Clone(body)
	if rest := len(padded) % sealStep; rest != 0 {
		padded = append(padded, bytes.Repeat([]byte{' '}, sealStep-rest)...)
	}
	return padded
}

func (k Key) cipher() cipher.AEAD {
	aead, err := chacha20poly1305.NewX(k[:])
	if err != nil {
		panic("record: key of a wrong size") // the type fixes the size
	}
	return aead
}

// Unseal decrypts a box made by [Key.Seal] with the same open fields. Any changed bit of either is an error.
func (k Key) Unseal(open []byte, box Box) ([]byte, error) {
	body, err := k.cipher().Open(nil, box.Nonce[:], box.Data, open)
	if err != nil {
		return nil, errors.New("sealed body does not match its key and open fields")
	}
	return bytes.TrimRight(body, " "), nil
}

// boxText is the encoding of nonce and data inside a record.
// Source: RFC 4648 section 4, without padding.
var boxText = base64.RawStdEncoding.Strict()

// appendBox writes box as a canonical JSON object.
func appendBox(dst []byte, box Box) []byte {
	dst = append(dst, `{"box":"`...)
	dst = boxText.AppendEncode(dst, box.Data)
	dst = append(dst, `","key":`...)
	dst = appendString(dst, box.Key)
	dst = append(dst, `,"nonce":"`...)
	dst = boxText.AppendEncode(dst, box.Nonce[:])
	return append(dst, `"}`...)
}

func parseBox(src []byte) (Box, error) {
	var box Box
	err := eachMember(src, func(name string, from, to int) error {
		text, err := plainString(src[from:to])
		if err != nil {
			return err
		}
		switch name {
		case "key":
			box.Key = text
		case "box":
			box.Data, err = boxText.DecodeString(text)
		case "nonce":
			nonce, err := boxText.DecodeString(text)
			if err == nil && len(nonce) != len(box.Nonce) {
				err = fmt.Errorf("nonce has %d bytes, allowed %d", len(nonce), len(box.Nonce))
			}
			copy(box.Nonce[:], nonce)
			return err
		}
		return err
	})
	return box, err
}
