package git

import (
	"errors"
)

var errDelta = errors.New("change to a base object is malformed")

// applyDelta returns the object that a change makes of its base. Packs that git has repacked hold these;
// this package writes none.
//
// Source: gitformat-pack, "Deltified representation".
func applyDelta(base, delta []byte) ([]byte, error) {
	from, delta := varint(delta)
	to, delta := varint(delta)
	if from != int64(len(base)) || to < 0 || to > maxObject {
		return nil, errDelta
	}
	out := make([]byte, 0, min(to, int64(len(base)+len(delta))*2))
	for len(delta) > 0 {
		op := delta[0]
		delta = delta[1:]
		if op&0x80 == 0 {
			n := int(op)
			if n == 0 || n > len(delta) {
				return nil, errDelta
			}
			out = append(out, delta[:n]...)
			delta = delta[n:]
			continue
		}
		var off, n int
		for bit := range 7 {
			if op>>bit&1 == 0 {
				continue
			}
			if len(delta) == 0 {
				return nil, errDelta
			}
			if bit < 4 {
				off |= int(delta[0]) << (8 * bit)
			} else {
				n |= int(delta[0]) << (8 * (bit - 4))
			}
			delta = delta[1:]
		}
		if n == 0 {
			n = 0x10000
		}
		if off+n > len(base) || int64(len(out)+n) > to {
			return nil, errDelta
		}
		out = append(out, base[off:off+n]...)
	}
	if int64(len(out)) != to {
		return nil, errDelta
	}
	return out, nil
}

// varint reads a little-endian base 128 number, -1 if it does not end.
func varint(b []byte) (int64, []byte) {
	var v int64
	for i := 0; i < len(b) && i < 9; i++ {
		v |= int64(b[i]&0x7f) << (7 * i)
		if b[i]&0x80 == 0 {
			return v, b[i+1:]
		}
	}
	return -1, nil
}
