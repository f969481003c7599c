package terms

import "testing"

func TestClassOfMaterial(t *testing.T) {
	for name, want := range map[string]Class{
		"skin": Skin, "Face_01": Skin, "bodySkin": Skin, "hair": HairClass, "shortHair": HairClass,
		"eyebrow-left": HairClass, "Eyes": EyeClass, "shoe-left": Shoe, "Boot.R": Shoe, "kit": Cloth,
		"headband": Cloth, "sleeve_forearm": Cloth, "shorts": Cloth, "floor": Stand, "stand": Stand,
		"standardSurface1": ClassUnknown, "scalp": ClassUnknown, "capture7": ClassUnknown, "": ClassUnknown,
	} {
		if got := ClassOfMaterial(name); got != want {
			t.Errorf("%q: got class %q, want %q", name, got, want)
		}
	}
}
