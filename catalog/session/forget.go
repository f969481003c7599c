package session

// Forget withdraws every take of a subject who was erased. What described them is gone.
func (s *State) Forget(subject string) {
	for _, t := range s.bySubject[subject] {
		t.Standing, t.Why, t.Names, t.Checks = Withdrawn, "the subject was erased", nil, nil
	}
}
