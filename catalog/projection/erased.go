package projection

// forget ends what was under way about a subject who was erased: takes are withdrawn, requests too, and game
// assets are retired. It comes after all records of the subject, also those whose authors had not heard of
// the erasure.
func (s *State) forget(subject string) {
	s.Session.Forget(subject)
	s.Request.Forget(subject)
	s.Derived.Forget(subject)
}
