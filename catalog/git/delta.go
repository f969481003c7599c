package git

import (
	"encoding/binary"
	"errors"

	"github.com/go-git/go-git/v5/plumbing/format/packfile"
)

var errDelta = errors.New("change to a base object is malformed")

// applyDelta returns the object that a change makes of its base. Packs that git has repacked hold these;
// this package writes none. The library grows the object as the change says, so its size is looked at first.
//
// Source: gitformat-pack, "Deltified representation": both sizes are little-endian base 128 numbers.
func applyDelta(base, delta []byte) (object []byte, err error) {
	defer guard(&err)
	_, n := binary.Uvarint(delta)
	if n <= 0 {
		return nil, errDelta
	}
	if size, n := binary.Uvarint(delta[n:]); n <= 0 || size > maxObject {
		return nil, errDelta
	}
	if object, err = packfile.PatchDelta(base, delta); err != nil {
		return nil, errDelta
	}
	return object, nil
}
