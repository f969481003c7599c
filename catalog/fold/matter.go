package fold

import "mien/catalog/record"

// Matter is the causal history of one matter: which records belong to it and which of them each
// author had seen. The zero value is an empty matter.
type Matter struct {
	ids   []record.ID
	after map[record.ID][]record.ID
}

// Add puts e into the matter. Records may come in any order.
func (m *Matter) Add(e record.Entry) {
	if _, ok := m.after[e.ID]; ok {
		return
	}
	if m.after == nil {
		m.after = map[record.ID][]record.ID{}
	}
	m.ids = append(m.ids, e.ID)
	m.after[e.ID] = e.After
}

// Heads returns the records that no other record of the matter names, in the order they were added:
// what a new record on the matter names as seen.
func (m *Matter) Heads() []record.ID {
	named := map[record.ID]bool{}
	for _, id := range m.ids {
		for _, a := range m.after[id] {
			named[a] = true
		}
	}
	var heads []record.ID
	for _, id := range m.ids {
		if !named[id] {
			heads = append(heads, id)
		}
	}
	return heads
}

// Saw reports whether the author of later had seen earlier, directly or through records in between.
func (m *Matter) Saw(later, earlier record.ID) bool {
	seen := map[record.ID]bool{later: true}
	queue := []record.ID{later}
	for len(queue) > 0 {
		id := queue[0]
		queue = queue[1:]
		for _, a := range m.after[id] {
			if a == earlier {
				return true
			}
			if !seen[a] {
				seen[a] = true
				queue = append(queue, a)
			}
		}
	}
	return false
}

// Contested reports whether neither author had seen the other's record.
func (m *Matter) Contested(a, b record.ID) bool {
	return a != b && !m.Saw(a, b) && !m.Saw(b, a)
}
