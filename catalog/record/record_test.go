package record

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// ring seals under one key for each subject.
type ring map[string]Key

func (r ring) Seal(subject string, open, body []byte) (Box, error) {
	return r[subject].Seal(open, body), nil
}

func (r ring) Unseal(subject string, open []byte, box Box) ([]byte, error) {
	key, ok := r[subject]
	if !ok || key.Name() != box.Key {
		return nil, ErrNoKey
	}
	return key.Unseal(open, box)
}

var noon = Stamp{Ms: 1_790_000_000_123, N: 4, Site: "road-3f9a"}

func sample() Draft {
	return Draft{
		Kind: "sighting.add", Subject: "ath-0147", By: "artist-2",
		After:  []ID{{1}, {2, 3}},
		Open:   map[string]any{"seen": "2026-09-30", "area_mm2": 1250},
		Sealed: map[string]any{"region": "forearm-left", "note": "new ink \"wave\""},
	}
}

func TestEncodeDecode(t *testing.T) {
	keys := ring{"ath-0147": NewKey(), "": NewKey()}
	for _, strip := range []string{"", "open", "sealed", "subject", "after"} {
		d := sample()
		switch strip {
		case "open":
			d.Open = nil
		case "sealed":
			d.Sealed = nil
		case "subject":
			d.Subject = ""
		case "after":
			d.After = nil
		}
		text, id, err := Encode(d, noon, keys)
		if err != nil {
			t.Fatal(err)
		}
		e, err := Decode(text, keys)
		if err != nil {
			t.Fatal(err)
		}
		if e.ID != id || e.ID != IDOf(text) || e.Schema != Schema || e.Kind != d.Kind || e.Subject != d.Subject ||
			e.By != d.By || e.At != noon || !slices.Equal(e.After, d.After) || e.NoKey {
			t.Errorf("without %q: %+v", strip, e)
		}
		if want, _ := Canonical(mustJSON(t, d.Sealed)); strip != "sealed" && !bytes.Equal(e.Sealed, want) {
			t.Errorf("without %q: sealed %s", strip, e.Sealed)
		}
		if bytes.Contains(text, []byte("forearm")) || bytes.Contains(text, []byte("wave")) {
			t.Errorf("text shows the sealed body: %s", text)
		}
		if err := Check(e.Path(), text); err != nil {
			t.Error(err)
		}
		closed, err := Decode(text, ring{})
		if err != nil || closed.Sealed != nil || closed.NoKey != (strip != "sealed") {
			t.Errorf("without key: %+v, %v", closed, err)
		}
	}
}

func mustJSON(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestEncodeRefuses(t *testing.T) {
	for _, test := range []struct {
		change func(*Draft, *Stamp)
		want   string
	}{
		{func(d *Draft, _ *Stamp) { d.Kind = "Sight" }, `record Sight: kind "Sight"`},
		{func(d *Draft, _ *Stamp) { d.Kind = "" }, `kind ""`},
		{func(d *Draft, _ *Stamp) { d.Subject = "../ath" }, `code "../ath"`},
		{func(d *Draft, _ *Stamp) { d.By = "Ann" }, `code "Ann"`},
		{func(d *Draft, _ *Stamp) { d.Open = map[string]any{"score": 0.5} }, "open: score: byte 9: number 0.5"},
		{func(d *Draft, _ *Stamp) { d.Sealed = map[string]any{"mm": []any{1, 2.25}} }, "sealed: mm"},
		{func(d *Draft, _ *Stamp) { d.Open = []int{1} }, "open: is [1], allowed is an object"},
		{func(d *Draft, _ *Stamp) { d.Open = make(chan int) }, "open: json"},
		{func(_ *Draft, at *Stamp) { at.Ms = -1 }, "time -1 ms"},
		{func(_ *Draft, at *Stamp) { at.Ms = maxMs + 1 }, "time 253402300800000 ms"},
		{func(_ *Draft, at *Stamp) { at.N = -1 }, "count -1"},
		{func(_ *Draft, at *Stamp) { at.Site = "Road" }, `site "Road"`},
	} {
		d, at := sample(), noon
		test.change(&d, &at)
		_, _, err := Encode(d, at, ring{})
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("got %v, want %q", err, test.want)
		}
	}
}

// TestEveryBitCounts flips each bit of a record: the id changes, and either the text is no record any more,
// or its sealed body does not open, or the change lies in the box.
func TestEveryBitCounts(t *testing.T) {
	keys := ring{"ath-0147": NewKey()}
	text, id, err := Encode(sample(), noon, keys)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := Decode(text, keys)
	if err != nil {
		t.Fatal(err)
	}
	for i := range text {
		for bit := range 8 {
			bad := bytes.Clone(text)
			bad[i] ^= 1 << bit
			if IDOf(bad) == id {
				t.Fatalf("byte %d bit %d: same id", i, bit)
			}
			e, err := Decode(bad, keys)
			if err == nil && e.Sealed != nil {
				t.Errorf("byte %d bit %d: still opens: %s", i, bit, bad)
			}
			if Check(whole.Path(), bad) == nil {
				t.Errorf("byte %d bit %d: passes at the path of the whole record", i, bit)
			}
		}
	}
}

func TestNewerSchemaIsKept(t *testing.T) {
	text := []byte(`{"after":[],"at":{"ms":1790000000123,"n":4,"site":"road-3f9a","zone":60},"by":"lead-1","kind":"orbit.decide",` +
		`"novel":{"a":[1]},"open":{"x":1},"schema":7,"sealed":{"capsule":"zzz","key":5},"subject":"ath-0147"}`)
	e, err := Decode(text, ring{})
	if err != nil || e.Schema != 7 || e.Kind != "orbit.decide" || !e.NoKey || string(e.Open) != `{"x":1}` {
		t.Fatalf("%+v, %v", e, err)
	}
	if err := Check(e.Path(), text); err != nil {
		t.Error(err)
	}
}

func TestDecodeRefuses(t *testing.T) {
	good := `{"after":[],"at":{"ms":1,"n":0,"site":"a"},"by":"","kind":"k","open":{},"schema":1,"subject":""}`
	if _, err := Decode([]byte(good), ring{}); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{
		``, `{`, `{}`, `[]`, `null`, good[:len(good)-1], good[1:],
		strings.Replace(good, `"schema":1,`, ``, 1),
		strings.Replace(good, `"schema":1`, `"schema":0`, 1),
		strings.Replace(good, `"kind":"k"`, `"kind":"K"`, 1),
		strings.Replace(good, `"kind":"k"`, `"kind":5`, 1),
		strings.Replace(good, `"after":[]`, `"after":["x"]`, 1),
		strings.Replace(good, `"ms":1`, `"ms":-1`, 1),
		strings.Replace(good, `"site":"a"`, `"site":"/"`, 1),
		strings.Replace(good, `,"subject"`, `,"sealed":{"box":"*","key":"","nonce":""},"subject"`, 1),
		strings.Replace(good, `,"subject"`, `,"sealed":{"box":"","key":"","nonce":"AA"},"subject"`, 1),
	} {
		if e, err := Decode([]byte(bad), ring{}); err == nil {
			t.Errorf("%s: accepted as %+v", bad, e)
		}
	}
}

func FuzzDecode(f *testing.F) {
	text, _, err := Encode(sample(), noon, ring{"ath-0147": Key{}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"sealed":{}`))
	f.Add([]byte(`{"a":"\`))
	f.Fuzz(func(t *testing.T, text []byte) {
		e, err := Decode(text, ring{"ath-0147": Key{}})
		if err == nil && Check(e.Path(), text) == nil {
			if canonical, err := Canonical(text); err != nil || !bytes.Equal(canonical, text) {
				t.Fatalf("%q passes and is not canonical: %v", text, err)
			}
		}
	})
}

func TestSealedLengthsComeInSteps(t *testing.T) {
	k := NewKey()
	for n := range 200 {
		body := []byte(`{"n":"` + strings.Repeat("x", n) + `"}`)
		box := k.Seal(nil, body)
		if (len(box.Data)-16)%sealStep != 0 {
			t.Fatalf("%d bytes became %d", len(body), len(box.Data))
		}
		if got, err := k.Unseal(nil, box); err != nil || !bytes.Equal(got, body) {
			t.Fatalf("%s came back as %s, %v", body, got, err)
		}
	}
}

// TestUnsealKnownAnswer opens the example of the draft that defines XChaCha20-Poly1305.
// Source: draft-irtf-cfrg-xchacha-03, appendix A.3.1 (from memory).
func TestUnsealKnownAnswer(t *testing.T) {
	var k Key
	var box Box
	for i := range k {
		k[i] = 0x80 + byte(i)
	}
	for i := range box.Nonce {
		box.Nonce[i] = 0x40 + byte(i)
	}
	aad, _ := hex.DecodeString("50515253c0c1c2c3c4c5c6c7")
	box.Data, _ = hex.DecodeString("bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb" +
		"731c7f1b0b4aa6440bf3a82f4eda7e39ae64c6708c54c216cb96b72e1213b452" +
		"2f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff9" +
		"21f9664c97637da9768812f615c68b13b52e" + "c0875924c1c7987947deafd8780acf49")
	got, err := k.Unseal(aad, box)
	if want := "Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the future, sunscreen would be it."; err != nil || string(got) != want {
		t.Errorf("got %q, %v", got, err)
	}
}

func TestIDLetters(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		var id ID
		for i := range id {
			id[i] = byte(rng.Uint32())
		}
		s := id.String()
		back, err := ParseID(s)
		if len(s) != 52 || err != nil || back != id || strings.ContainsAny(s, "ilou") {
			t.Fatalf("%s: %v", s, err)
		}
		p, err := ParsePrefix("R-" + strings.ToUpper(id.Short(6)))
		if err != nil || !p.Matches(id) || len(p) != 6 {
			t.Fatalf("%s: prefix %q, %v", s, p, err)
		}
	}
	if p, err := ParsePrefix("lLoOiI"); err != nil || p != "110011" {
		t.Errorf("look-alikes: %q, %v", p, err)
	}
	for _, bad := range []string{"", "R-7k2m9", "7k2m9u", "7k2m9!", strings.Repeat("0", 53)} {
		if p, err := ParsePrefix(bad); err == nil {
			t.Errorf("%q accepted as %q", bad, p)
		}
	}
	full := ID{}.String()
	for _, bad := range []string{full[1:], full + "0", full[1:] + "1", full[1:] + "O", strings.Repeat("u", 52)} {
		if _, err := ParseID(bad); err == nil {
			t.Errorf("%q accepted", bad)
		}
	}
	var v struct{ At ID }
	if err := json.Unmarshal([]byte(`{"At":"`+ID{7}.String()+`"}`), &v); err != nil || v.At != (ID{7}) {
		t.Errorf("%v, %v", v, err)
	}
}

func TestPathIsItsOwnInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := Stamp{Ms: rapid.Int64Range(0, maxMs).Draw(t, "ms"), N: rapid.Int64Range(0, maxExact).Draw(t, "n"), Site: rapid.StringMatching(`[a-z][a-z0-9]{0,8}-[0-9a-f]{4}`).Draw(t, "site")}
		e := Entry{At: at, ID: ID{byte(rapid.IntRange(0, 255).Draw(t, "id"))}}
		back, prefix, err := ParsePath(e.Path())
		if err != nil || back != at || !prefix.Matches(e.ID) {
			t.Fatalf("%s: %+v, %q, %v", e.Path(), back, prefix, err)
		}
		if strings.ContainsAny(e.Path(), `:\`) {
			t.Fatalf("%s is no name on every file system", e.Path())
		}
	})
	good := (&Entry{At: noon}).Path()
	if want := "e/road-3f9a/2026/09/21/14/20260921T141320.123Z-4-0000000000000000.json"; good != want {
		t.Errorf("got %s, want %s", good, want)
	}
	for _, bad := range []string{"", "e", good + "x", "f" + good[1:], strings.Replace(good, "/14/", "/15/", 1),
		strings.Replace(good, "-4-", "-04-", 1), strings.Replace(good, "-4-", "--4-", 1), strings.ToUpper(good), strings.Replace(good, "e/", "e//", 1)} {
		if at, p, err := ParsePath(bad); err == nil {
			t.Errorf("%s accepted as %+v %s", bad, at, p)
		}
	}
}

func TestClock(t *testing.T) {
	now := time.UnixMilli(1_000_000)
	c := NewClock("road-3f9a", func() time.Time { return now })
	want := func(ms, n int64) {
		t.Helper()
		if got := c.Next(); got != (Stamp{ms, n, "road-3f9a"}) {
			t.Errorf("got %+v, want (%d, %d)", got, ms, n)
		}
	}
	want(1_000_000, 0)
	want(1_000_000, 1)
	now = now.Add(-time.Second)
	want(1_000_000, 2)
	now = now.Add(2 * time.Second)
	want(1_001_000, 0)
	if c.Observe(Stamp{1_001_500, 9, "studio-0001"}) {
		t.Error("half a second is not far")
	}
	want(1_001_500, 10)
	far := now.Add(SkewCap + time.Millisecond).UnixMilli()
	if !c.Observe(Stamp{far, 0, "studio-0001"}) {
		t.Error("beyond the cap is far")
	}
	want(1_001_500, 11)
	if c.Observe(Stamp{far, 0, "road-3f9a"}) {
		t.Error("our own stamps are never far")
	}
	want(far, 1)
}

func BenchmarkDecode(b *testing.B) {
	keys := ring{"ath-0147": NewKey()}
	text, _, err := Encode(sample(), noon, keys)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := Decode(text, keys); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEncode(b *testing.B) {
	keys := ring{"ath-0147": NewKey()}
	for b.Loop() {
		if _, _, err := Encode(sample(), noon, keys); err != nil {
			b.Fatal(err)
		}
	}
}
