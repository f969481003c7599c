package invent

// NewPerson makes the person number seed of a family. The same arguments give the same person.
//
// Athletes of [Tuning] are 1.70 to 2.05 m tall with long limbs; those of [Report] are 1.62 to 1.96 m,
// broader and shorter-limbed with fuller features.
func NewPerson(family Family, seed uint64) Person {
	r := newRandom(seed^uint64(family)<<56, "identity")
	p := Person{Family: family, Seed: seed}
	f := &p.Face
	if family == Report {
		p.HeightM = min(max(r.about(1.79, 0.075), 1.62), 1.96)
		p.Build = Build{
			Shoulder: r.about(1.03, .035), Chest: r.about(1.06, .04), Waist: r.about(1.06, .05), Hip: r.about(1.04, .03),
			Depth: r.about(1.05, .04), ArmLength: r.about(.975, .02), LegLength: r.about(.97, .015),
			ArmGirth: r.about(1.07, .05), LegGirth: r.about(1.06, .045),
			Hand: r.about(.99, .025), Foot: r.about(.99, .025), Head: r.about(1.01, .015), Neck: r.about(1.07, .04),
		}
		f.Width, f.Cheek, f.NoseWidth, f.LipFullness = r.about(.35, .35), r.about(.3, .4), r.about(.4, .4), r.about(.3, .4)
	} else {
		p.HeightM = min(max(r.about(1.88, 0.075), 1.70), 2.05)
		p.Build = Build{
			Shoulder: r.about(1, .03), Chest: r.about(1, .035), Waist: r.about(1, .04), Hip: r.about(1, .03),
			Depth: r.about(1, .035), ArmLength: r.about(1.01, .02), LegLength: r.about(1.01, .012),
			ArmGirth: r.about(1, .05), LegGirth: r.about(1, .04),
			Hand: r.about(1, .025), Foot: r.about(1, .025), Head: r.about(1, .015), Neck: r.about(1, .04),
		}
		f.Width, f.Cheek, f.NoseWidth, f.LipFullness = r.about(-.1, .4), r.about(0, .45), r.about(-.05, .45), r.about(0, .45)
	}
	f.Jaw, f.Chin, f.Brow = r.about(0, .45), r.about(0, .45), r.about(0, .45)
	f.NoseLength, f.NoseBridge = r.about(0, .45), r.about(0, .45)
	f.MouthWidth, f.EyeSpacing, f.EyeDepth = r.about(0, .45), r.about(0, .45), r.about(0, .45)
	f.EarSize, f.EarTurn, f.Asymmetry = r.about(0, .45), r.about(0, .45), r.about(0, .8)

	p.Tone = r.pick(6)
	p.Eye, p.Hair = EyeColour(r.pick(int(eyeColours))), HairColour(r.pick(int(hairColours)))
	if p.Tone >= 3 {
		p.Eye, p.Hair = EyeColour(r.pick(3)), HairColour(r.pick(3))
	}
	p.base = newBase(p)
	return p
}
