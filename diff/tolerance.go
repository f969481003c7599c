package diff

import "mien/asset/terms"

// classTolerance multiplies the tolerance by what the surface is made of: hair and cloth never lie the
// same way twice, and multi-view stereo fails on hair. Common practice, no source.
func classTolerance(class uint8) float64 {
	switch terms.Class(class) {
	case terms.HairClass, terms.Cloth:
		return 3
	case terms.Shoe:
		return 2
	}
	return 1
}

// stageFactor widens the tolerance when the two scans were processed to different stages: cleaning and
// fitting move surfaces by some tenths of a millimetre. Common practice, no source.
func (c *comparison) stageFactor() float64 {
	if c.otherStage() {
		return 1.5
	}
	return 1
}

func (c *comparison) otherStage() bool {
	return c.old.Stage != "" && c.new.Stage != "" && c.old.Stage != c.new.Stage
}
