package demo

import (
	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// athlete is one invented member of the league: who, how they looked at the first session, how at the
// second, and how the second capture differed without the person changing.
type athlete struct {
	code, name, squad string
	tier              int
	seed              uint64
	before, after     invent.Look
	second            func(*invent.Capture) // capture differences beyond the usual ones
	tells             string                // one line for the reader
	same              bool                  // nothing about the person truly changed
	noHead            bool                  // the second visit had no time for the head
}

// league returns the twelve athletes of the invented coastal handball league.
func league() []athlete {
	shoe := func(model int, main, panel, sole uint8) invent.Shoe {
		return invent.Shoe{Model: model, Colours: [3]uint8{main, panel, sole}}
	}
	base := func(hair invent.HairStyle, beard invent.BeardStyle, shoes invent.Shoe, ink ...invent.Ink) invent.Look {
		return invent.Look{Hair: hair, Beard: beard, Shoes: shoes, Ink: ink, Freckles: .2}
	}
	with := func(l invent.Look, change func(*invent.Look)) invent.Look {
		l.Ink = append([]invent.Ink(nil), l.Ink...)
		change(&l)
		return l
	}
	ink := func(r terms.Region, motif uint64, cm, contrast float64) invent.Ink {
		return invent.Ink{Region: r, Motif: motif, SizeCM: cm, Contrast: contrast}
	}
	band := ink(terms.ForearmRight, 3, 8, 22)
	calf := ink(terms.CalfLeft, 5, 8, 24)
	arm := ink(terms.UpperArmRight, 2, 7, 22)

	list := []athlete{
		{code: "ath-0112", name: "Ilo Marrenquist", squad: "terns", tier: 1, seed: 101,
			before: base(invent.Short, invent.NoBeard, shoe(1, 0, 1, 2), band), tells: "new ink on the left forearm"},
		{code: "ath-0118", name: "Teo Halvane", squad: "terns", tier: 2, seed: 102,
			before: base(invent.Cropped, invent.Stubble, shoe(2, 3, 1, 0)), noHead: true, tells: "other shoes"},
		{code: "ath-0123", name: "Bram Ostervik", squad: "terns", tier: 2, seed: 103,
			before: base(invent.Curly, invent.NoBeard, shoe(1, 2, 0, 1), calf), tells: "hair cut short"},
		{code: "ath-0131", name: "Nuri Caldewey", squad: "terns", tier: 3, seed: 104,
			before: base(invent.Short, invent.NoBeard, shoe(3, 1, 4, 0)), tells: "a full beard"},
		{code: "ath-0147", name: "Sander Quillmore", squad: "gannets", tier: 1, seed: 105,
			before: base(invent.Short, invent.Stubble, shoe(4, 0, 2, 3), arm), tells: "eight millimetres heavier"},
		{code: "ath-0152", name: "Joss Venterby", squad: "gannets", tier: 2, seed: 106,
			before: base(invent.Cropped, invent.NoBeard, shoe(2, 4, 0, 1), arm, calf), noHead: true, tells: "ink on the right upper arm taken off"},
		{code: "ath-0160", name: "Oke Lindraven", squad: "gannets", tier: 2, seed: 107,
			before: base(invent.Long, invent.NoBeard, shoe(5, 2, 3, 0), calf), tells: "ink on the left calf extended, a headband"},
		{code: "ath-0166", name: "Pell Arnsgard", squad: "gannets", tier: 1, seed: 108,
			before: base(invent.Short, invent.NoBeard, shoe(3, 0, 0, 1)), tells: "a scar on the right cheek, new ink on the neck"},
		{code: "ath-0171", name: "Ravi Tollmere", squad: "seals", tier: 1, seed: 109,
			before: base(invent.Short, invent.NoBeard, shoe(1, 1, 2, 0), band), same: true, tells: "nothing changed: other topology, atlas, light, posture, breath"},
		{code: "ath-0185", name: "Emre Falkenau", squad: "seals", tier: 2, seed: 110,
			before: base(invent.Cropped, invent.Stubble, shoe(4, 3, 2, 1), band, calf), same: true, tells: "nothing changed: a sleeve covers old ink, a tan"},
		{code: "ath-0190", name: "Luca Brandsey", squad: "seals", tier: 3, seed: 111,
			before: base(invent.Curly, invent.NoBeard, shoe(6, 0, 1, 3)), same: true, tells: "nothing changed: other topology, atlas, light, a tan, skin slip"},
		{code: "ath-0203", name: "Finn Aldermoor", squad: "seals", tier: 1, seed: 112,
			before: base(invent.Short, invent.ShortBeard, shoe(5, 1, 0, 2), arm), noHead: true, tells: "new ink on the chest, other shoes"},
	}
	changes := map[string]func(*invent.Look){
		"ath-0112": func(l *invent.Look) { l.Ink = append(l.Ink, ink(terms.ForearmLeft, 1, 9, 24)) },
		"ath-0118": func(l *invent.Look) { l.Shoes = shoe(6, 2, 4, 1) },
		"ath-0123": func(l *invent.Look) { l.Hair = invent.Cropped },
		"ath-0131": func(l *invent.Look) { l.Beard = invent.FullBeard },
		"ath-0147": func(l *invent.Look) { l.HeavierMm = 8 },
		"ath-0152": func(l *invent.Look) { l.Ink = l.Ink[1:] },
		"ath-0160": func(l *invent.Look) { l.Ink[0].Extended = 1; l.Headband = true },
		"ath-0166": func(l *invent.Look) {
			l.Scars = append(l.Scars, invent.Scar{Region: terms.CheekRight, LengthCM: 4, WidthMm: 4, Reddish: true})
			l.Ink = append(l.Ink, ink(terms.NeckBack, 4, 5, 24))
		},
		"ath-0185": func(l *invent.Look) { l.Sleeves = []terms.Region{terms.ForearmRight}; l.TanDE = 3 },
		"ath-0190": func(l *invent.Look) { l.TanDE = 3.5 },
		"ath-0203": func(l *invent.Look) {
			l.Ink = append(l.Ink, ink(terms.Chest, 6, 12, 22))
			l.Shoes = shoe(2, 3, 0, 4)
		},
	}
	capture := map[string]func(*invent.Capture){
		"ath-0112": func(c *invent.Capture) { raise(c, terms.ArmUpperLeft, 5) },
		"ath-0147": func(c *invent.Capture) { raise(c, terms.ArmUpperRight, 6); c.BreathMm = 2 },
		"ath-0171": func(c *invent.Capture) { raise(c, terms.ArmUpperRight, 8); c.BreathMm = 3 },
		"ath-0185": func(c *invent.Capture) { raise(c, terms.ArmUpperLeft, 4); c.SlipMm = 1.5 },
		"ath-0190": func(c *invent.Capture) { c.BreathMm = 3; c.SlipMm = 2; c.JPEGQuality = 88 },
	}
	for i := range list {
		a := &list[i]
		a.after, a.second = a.before, capture[a.code]
		if f := changes[a.code]; f != nil {
			a.after = with(a.before, f)
		}
	}
	return list
}

func raise(c *invent.Capture, s terms.Segment, degrees float64) {
	c.Joints = append(c.Joints, invent.JointTurn{Segment: s, Axis: invent.Raise, Degrees: degrees})
}

// captureOf returns how athlete number i was recorded at session 1 or 2. The two sessions differ in
// topology, atlas, place, light, noise and posture; nothing of that is a change of the person.
func captureOf(a athlete, i, session int, part asset.Part) invent.Capture {
	k := uint64(session*1000 + i)
	c := invent.Capture{
		Seed: k*7919 + uint64(len(part)), AtlasSeed: k, NoiseMm: .15, NoiseCorrMm: .15, Grain: 1.2, JPEGQuality: 92,
		GridTurnDeg: float64((i*37 + session*61) % 90), GridShift: mesh.Vec{.1 * float64(i%7), .3 * float64(session), .2},
		OffsetM: mesh.Vec{.02 * float64(i%5), 0, -.03 * float64(session)}, TurnDeg: float64(3*(i%4) - 5*session),
		Stage: asset.StageRaw, TexSize: 1024,
	}
	if c.GridMm = 3; part == asset.PartBody {
		c.GridMm = 8
	}
	if session == 2 {
		c.Light = invent.Light{Gain: [3]float64{1.06, .99, .93}, Shading: [9]float64{0, .04, .05, -.03}}
		if a.second != nil {
			a.second(&c)
		}
	}
	return c
}
