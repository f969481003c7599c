package align

import "mien/asset/terms"

// regionWeight says how firmly a region holds a person's frame over months: bone close under the skin
// high; what weight, muscle, beard and haircuts move low. Common practice, no source.
var regionWeight = [terms.RegionCount]float64{
	terms.NoRegion: .3,
	terms.Scalp:    .5, terms.Forehead: 1, terms.BrowLeft: .8, terms.BrowRight: .8, terms.EyeLeft: .5, terms.EyeRight: .5,
	terms.Nose: 1, terms.CheekLeft: .5, terms.CheekRight: .5, terms.Lips: .2, terms.Chin: .2, terms.JawLeft: .2, terms.JawRight: .2,
	terms.EarLeft: .6, terms.EarRight: .6, terms.NeckFront: .1, terms.NeckBack: .15,
	terms.ShoulderLeft: .2, terms.ShoulderRight: .2, terms.UpperArmLeft: .1, terms.UpperArmRight: .1,
	terms.ElbowLeft: .5, terms.ElbowRight: .5, terms.ForearmLeft: .3, terms.ForearmRight: .3,
	terms.WristLeft: .8, terms.WristRight: .8, terms.HandLeft: .8, terms.HandRight: .8,
	terms.Chest: .15, terms.Abdomen: .03, terms.BackUpper: .25, terms.BackLower: .15, terms.Pelvis: .3,
	terms.ButtockLeft: .08, terms.ButtockRight: .08, terms.ThighLeft: .1, terms.ThighRight: .1,
	terms.KneeLeft: .6, terms.KneeRight: .6, terms.ShinLeft: .6, terms.ShinRight: .6,
	terms.CalfLeft: .2, terms.CalfRight: .2, terms.AnkleLeft: .8, terms.AnkleRight: .8,
	terms.FootLeft: 1, terms.FootRight: 1, terms.Teeth: 1, terms.Tongue: .05,
}

// classWeight multiplies the region's weight by what the surface is made of. Common practice, no source.
var classWeight = [terms.ClassCount]float64{
	terms.ClassUnknown: 1, terms.Skin: 1, terms.HairClass: .05, terms.Cloth: .15, terms.Shoe: .15, terms.EyeClass: .5, terms.Stand: 0,
}

func anatomical(region, class uint8) float64 {
	w := 1.0
	if region < uint8(terms.RegionCount) {
		w = regionWeight[region]
	}
	if class < uint8(terms.ClassCount) {
		w *= classWeight[class]
	}
	return w
}
