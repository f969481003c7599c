package terms

import (
	"strings"
	"unicode"
)

// materialWords are tried in order against every word of a material's name.
var materialWords = []struct {
	class Class
	holds []string // parts of a word
	whole []string // whole words
}{
	{Stand, []string{"floor", "turntable"}, []string{"stand", "disk", "disc", "support"}},
	{HairClass, []string{"hair", "beard", "brow", "lash"}, []string{"moustache"}},
	{EyeClass, []string{"eye"}, []string{"cornea", "sclera", "iris"}},
	{Shoe, []string{"shoe", "boot"}, []string{"sole", "soles", "outsole", "insole"}},
	{Cloth, []string{"cloth", "short", "shirt", "sleeve", "headband"}, []string{"kit", "band", "bands", "cap", "sock", "socks"}},
	{Skin, []string{"skin", "body"}, []string{"face", "head", "hand", "hands"}},
}

// ClassOfMaterial returns the class that a material's name speaks of, ClassUnknown when none. Names
// are cut into words at changes of case and at everything that is no letter, so that "surface" is
// not a face and "standard" no stand. Common practice, no source.
func ClassOfMaterial(name string) Class {
	words := wordsOf(name)
	for _, row := range materialWords {
		for _, w := range words {
			for _, h := range row.holds {
				if strings.Contains(w, h) {
					return row.class
				}
			}
			for _, h := range row.whole {
				if w == h {
					return row.class
				}
			}
		}
	}
	return ClassUnknown
}

// wordsOf returns the lower-case words of a name.
func wordsOf(name string) []string {
	var b strings.Builder
	wasLower := false
	for _, r := range name {
		if unicode.IsUpper(r) && wasLower {
			b.WriteByte(' ')
		}
		wasLower = unicode.IsLower(r)
		if unicode.IsLetter(r) {
			b.WriteRune(unicode.ToLower(r))
		} else {
			b.WriteByte(' ')
		}
	}
	return strings.Fields(b.String())
}
