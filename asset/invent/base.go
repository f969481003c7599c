package invent

// base is the person's bare body in rest pose.
type base struct{}

func newBase(p Person) *base { return &base{} }
