package asset

import (
	"bytes"
	"testing"
)

// TestOfficialVectors checks BLAKE3 against the official test vectors (BLAKE3 team, test_vectors.json:
// input bytes 0..250 repeating, default hash, first 32 bytes).
func TestOfficialVectors(t *testing.T) {
	for length, want := range map[int]string{
		0:    "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262",
		1:    "2d3adedff11b61f14c886e35afa036736dcd87a74d27b5c1510225d0f592e213",
		1024: "42214739f095a406f3fc83deb889744ac00df831c10daa55189b5d121c855af7",
		1025: "d00278ae47eb27b34faecf67b4fe263f82d5412916c1ffd97c8cb7fb814b8444",
	} {
		in := make([]byte, length)
		for i := range in {
			in[i] = byte(i % 251)
		}
		if got := HashBytes(in).String(); got != want {
			t.Errorf("%d bytes: %s, want %s", length, got, want)
		}
		h, n, err := HashReader(bytes.NewReader(in))
		if err != nil || n != int64(length) || h.String() != want {
			t.Errorf("%d bytes read: %s, %d, %v", length, h, n, err)
		}
	}
}

func TestHashText(t *testing.T) {
	h := HashBytes([]byte("a"))
	back, err := ParseHash(h.String())
	if err != nil || back != h {
		t.Errorf("round trip gives %v, %v", back, err)
	}
	for _, bad := range []string{"", "12", h.String()[:63] + "g"} {
		if _, err := ParseHash(bad); err == nil {
			t.Errorf("ParseHash(%q) took it", bad)
		}
	}
}

func TestStagesInOrder(t *testing.T) {
	if StageRaw.Rank() != 0 || StageRetouched.Rank() != 3 || Stage("painted").Rank() != -1 {
		t.Error("ranks are off")
	}
	if _, err := ParseStage("painted"); err == nil {
		t.Error("an unknown stage was taken")
	}
}
