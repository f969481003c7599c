package invent

// Light is the light of a session as the camera recorded it.
type Light struct {
	Gain    [3]float64 // per linear channel; 0 means 1
	Shading [9]float64 // low-order function of the normal, added to 1
}
