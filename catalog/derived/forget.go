package derived

// Forget retires every asset of a subject who was erased.
func (s *State) Forget(subject string) {
	for _, a := range s.all {
		if a.Subject == subject {
			a.Retired = true
		}
	}
}
