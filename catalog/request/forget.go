package request

// Forget withdraws every live request of a subject who was erased.
func (s *State) Forget(subject string) {
	for _, r := range s.bySubject[subject] {
		if r.Status.Live() {
			r.Status = Withdrawn
		}
	}
}
