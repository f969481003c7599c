package texture

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"

	"mien/asset"
)

// maxProfileBytes bounds an unpacked colour profile.
const maxProfileBytes = 8 << 20

// pngProfile returns the hash of the picture's colour profile (chunk iCCP), zero when it has none.
//
// Source: W3C, Portable Network Graphics (Third Edition), 11.3.2.3.
func pngProfile(b []byte) asset.Hash {
	for at := 8; at+12 <= len(b); {
		n := int64(binary.BigEndian.Uint32(b[at:]))
		kind, end := string(b[at+4:at+8]), int64(at)+8+n
		if kind == "IDAT" || end+4 > int64(len(b)) {
			break
		}
		if kind == "iCCP" {
			body := b[at+8 : end]
			name := bytes.IndexByte(body, 0)
			if name < 0 || name+2 > len(body) {
				break
			}
			z, err := zlib.NewReader(bytes.NewReader(body[name+2:]))
			if err != nil {
				break
			}
			profile, err := io.ReadAll(io.LimitReader(z, maxProfileBytes))
			if err != nil {
				break
			}
			return asset.HashBytes(profile)
		}
		at = int(end) + 4
	}
	return asset.Hash{}
}

// jpegProfile returns the hash of the picture's colour profile (APP2 segments in order), zero when it
// has none.
//
// Source: ICC.1:2010, B.4.
func jpegProfile(b []byte) asset.Hash {
	const tag = "ICC_PROFILE\x00"
	var profile []byte
	for at := 2; at+4 <= len(b) && b[at] == 0xff && b[at+1] != 0xda; {
		n := int(binary.BigEndian.Uint16(b[at+2:]))
		if n < 2 || at+2+n > len(b) {
			break
		}
		body := b[at+4 : at+2+n]
		if b[at+1] == 0xe2 && bytes.HasPrefix(body, []byte(tag)) && len(body) > len(tag)+2 {
			profile = append(profile, body[len(tag)+2:]...)
		}
		at += 2 + n
	}
	if profile == nil {
		return asset.Hash{}
	}
	return asset.HashBytes(profile)
}
