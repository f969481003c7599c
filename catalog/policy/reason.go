package policy

// Reason says why a likeness should be renewed.
type Reason string

// Reasons.
const (
	Sighting    Reason = "sighting"
	Finding     Reason = "finding"
	MissingPose Reason = "missing-pose"
	Quality     Reason = "quality"
	Age         Reason = "age"
	RigChange   Reason = "rig"
)

var reasons = []Reason{Sighting, Finding, MissingPose, Quality, Age, RigChange}

// Reasons returns all reasons in table order.
func Reasons() []Reason { return append([]Reason(nil), reasons...) }

// Known reports whether r is in the table.
func (r Reason) Known() bool { return known(string(r)) }

func known(s string) bool {
	for _, r := range reasons {
		if string(r) == s {
			return true
		}
	}
	return false
}

// Weight returns what reason weighs, 0 to 1.
func (p *Policy) Weight(r Reason) float64 { return p.Reasons[string(r)] }
