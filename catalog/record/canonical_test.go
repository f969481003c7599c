package record

import (
	"bytes"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"pgregory.net/rapid"
)

func TestCanonicalForm(t *testing.T) {
	for _, test := range []struct{ name, in, want string }{
		{"space", " { \"b\" : [ 1 , true , null ] ,\n\t\"a\" : { } } ", `{"a":{},"b":[1,true,null]}`},
		{"numbers", `[0,-1,9007199254740991,-9007199254740991]`, `[0,-1,9007199254740991,-9007199254740991]`},
		{"escapes", `"\u0041\/\u000a\u0000\u001F\"\\\b\f\r\t\u00e9"`, `"A/\n\u0000\u001f\"\\\b\f\r\té"`},
		{"html", `"<&>\u2028"`, "\"<&>\u2028\""},
		{"pair", `"\ud83d\ude00"`, `"😀"`},
		{"nested order", `{"a":{"d":1,"c":[{"z":1,"y":2}]},"":0}`, `{"":0,"a":{"c":[{"y":2,"z":1}],"d":1}}`},
		// Source: RFC 8785 section 3.2.3 (from memory).
		{"order of units", `{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh",` +
			`"1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`,
			`{"\r":"Carriage Return","1":"One",` + "\"\u0080\":\"Control\"," + `"ö":"Latin Small Letter O With Diaeresis",` +
				`"€":"Euro Sign","😀":"Emoji: Grinning Face",` + "\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}"},
	} {
		got, err := Canonical([]byte(test.in))
		if err != nil || string(got) != test.want {
			t.Errorf("%s: got %s, %v\nwant %s", test.name, got, err, test.want)
		}
	}
}

func TestCanonicalRefuses(t *testing.T) {
	for _, test := range []struct{ in, want string }{
		{`{"peak":{"mm":1.5}}`, "peak.mm: byte 14: number 1.5, allowed are integers"},
		{`1e3`, "number 1e3"},
		{`-0`, "number -0"},
		{`01`, "number 01"},
		{`+1`, "'+' where a value"},
		{`9007199254740992`, "allowed are"},
		{`{"a":1,"a":2}`, "occurs twice"},
		{`{"a":1,"b":2,"\u0061":2}`, "occurs twice"},
		{`"\ud800"`, "surrogate"},
		{`"\ude00\ud83d"`, "surrogate"},
		{`"\ud83dA"`, "surrogate"},
		{"\"\xff\"", "not UTF-8"},
		{"\"a\\n\xc0\xaf\"", "not UTF-8"},
		{"\"a\nb\"", "control character"},
		{`"a`, "does not end"},
		{`"\`, "does not end"},
		{`"\u12`, "hex digits"},
		{`"\x"`, "unknown"},
		{`{"a" 1}`, "no colon"},
		{`{"a":1 "b"}`, "no comma"},
		{`{"a":1,}`, "no member name"},
		{`[1,]`, "where a value"},
		{`[1 2]`, "no comma"},
		{`[1`, "no comma"},
		{`{"a":1`, "no comma"},
		{`tru`, "where a value"},
		{`NaN`, "where a value"},
		{``, "ends where"},
		{`{} {}`, "text after"},
		{strings.Repeat("[", 100) + strings.Repeat("]", 100), "deeper"},
	} {
		got, err := Canonical([]byte(test.in))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%.40s: got %s, %v, want %q", test.in, got, err, test.want)
		}
	}
}

// TestCanonicalKeepsMeaning compares with the standard library on random values: what is read back from the
// canonical form is the value that went in, and the form of the form is itself.
func TestCanonicalKeepsMeaning(t *testing.T) {
	leaf := rapid.OneOf(
		rapid.Map(rapid.Int64Range(-maxExact, maxExact), func(v int64) any { return float64(v) }),
		rapid.Map(rapid.String(), func(s string) any { return s }),
		rapid.SampledFrom([]any{true, false, nil}),
	)
	value := rapid.Custom(func(t *rapid.T) any {
		switch rapid.IntRange(0, 5).Draw(t, "shape") {
		case 0:
			return map[string]any(rapid.MapOfN(rapid.String(), leaf, 0, 5).Draw(t, "object"))
		case 1:
			m := map[string]any{"list": rapid.SliceOfN(leaf, 0, 4).Draw(t, "list")}
			return m
		}
		return leaf.Draw(t, "leaf")
	})
	rapid.Check(t, func(t *rapid.T) {
		v := value.Draw(t, "value")
		src, err := json.MarshalIndent(v, " ", "\t")
		if err != nil {
			t.Fatal(err)
		}
		text, err := Canonical(src)
		if err != nil {
			t.Fatalf("%s: %v", src, err)
		}
		var a, b any
		if json.Unmarshal(src, &a) != nil || json.Unmarshal(text, &b) != nil || !reflect.DeepEqual(a, b) {
			t.Fatalf("%s became %s", src, text)
		}
		if again, err := Canonical(text); err != nil || !bytes.Equal(again, text) {
			t.Fatalf("%s became %s, %v", text, again, err)
		}
	})
}

func TestCompareUTF16(t *testing.T) {
	text := rapid.StringOfN(rapid.RuneFrom([]rune{'a', 'b', 'é', '€', '\ud7ff', '\ue000', '\ufb33', '\uffff', '\U00010000', '😀', '\U0010ffff'}), 0, 4, -1)
	rapid.Check(t, func(t *rapid.T) {
		a, b := text.Draw(t, "a"), text.Draw(t, "b")
		want := slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
		if got := compareUTF16(a, b); sign(got) != want {
			t.Fatalf("%q, %q: got %d, want %d", a, b, got, want)
		}
	})
}

func sign(v int) int {
	switch {
	case v < 0:
		return -1
	case v > 0:
		return 1
	}
	return 0
}

func FuzzCanonical(f *testing.F) {
	for _, s := range []string{`{"a":[1,"\ud83d\ude00"],"b":{}}`, `{"a":1,"a":1}`, "\"\xff", `-`, `[[[[`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		text, err := Canonical(src)
		if err != nil {
			return
		}
		if !json.Valid(src) || !json.Valid(text) {
			t.Fatalf("%q is no JSON", src)
		}
		if again, err := Canonical(text); err != nil || !bytes.Equal(again, text) {
			t.Fatalf("%q became %q, %v", text, again, err)
		}
	})
}
