// Package forget says what is held on one subject, and carries out what follows when the subject is erased:
// the key goes, and the files that nobody else uses.
package forget

import (
	"bytes"
	"maps"
	"slices"

	"mien/asset"
	"mien/catalog"
	"mien/catalog/projection"
	"mien/catalog/record"
	"mien/catalog/session"
)

// Holdings tells which subjects use which files of the store.
type Holdings struct {
	state *projection.State
	users map[asset.Hash]map[string]bool
	named []naming
}

// naming is a file of the store with the subject of a record that names it.
type naming struct {
	file    catalog.FileRef
	subject string
}

// Of reads who uses which file. A take's files belong to the subject under whom it is filed now, all other
// files to the subject of the record that names them. A file that is filed under nobody is nobody's.
func Of(entries []record.Entry, state *projection.State) *Holdings {
	h := &Holdings{state: state, users: map[asset.Hash]map[string]bool{}}
	for _, e := range entries {
		for _, file := range catalog.Files(e) {
			h.named = append(h.named, naming{file, e.Subject})
		}
		for _, file := range catalog.Mentions(e) {
			takes := state.Session.WithFile(file)
			if e.Kind != session.KindIntake || len(takes) == 0 {
				h.use(file, e.Subject)
				continue
			}
			for _, t := range takes {
				h.use(file, t.Subject)
			}
		}
	}
	return h
}

func (h *Holdings) use(file asset.Hash, subject string) {
	if h.users[file] == nil {
		h.users[file] = map[string]bool{}
	}
	if subject != "" {
		h.users[file][subject] = true
	}
}

// Named reports whether any record names a file.
func (h *Holdings) Named(file asset.Hash) bool { return h.users[file] != nil }

// Users returns who uses a file, in order of code.
func (h *Holdings) Users(file asset.Hash) []string {
	return slices.Sorted(maps.Keys(h.users[file]))
}

// Files returns the files that a subject uses, in order of hash: those that no living subject uses beside
// it, which its erasure removes, and those that stay for others.
func (h *Holdings) Files(subject string) (own, shared []asset.Hash) {
	for _, file := range slices.SortedFunc(maps.Keys(h.users), compare) {
		if !h.users[file][subject] {
			continue
		}
		alone := true
		for user := range h.users[file] {
			alone = alone && (user == subject || h.gone(user))
		}
		if alone {
			own = append(own, file)
		} else {
			shared = append(shared, file)
		}
	}
	return own, shared
}

// Erased reports whether a file went, or has to go, with the subjects that used it: all of them were
// erased, and none is under a hold.
func (h *Holdings) Erased(file asset.Hash) bool {
	users := h.users[file]
	for user := range users {
		if !h.gone(user) {
			return false
		}
	}
	return len(users) > 0
}

// gone reports whether a subject was erased and nothing stops that from being carried out.
func (h *Holdings) gone(subject string) bool {
	v, err := h.state.Roster.Get(subject)
	return err == nil && v.Erased && !v.Hold
}

// Gone lists the subjects whose erasure is to be carried out wherever it is known, by code, and Held those
// that another site erased while a hold stands: their keys and files stay until it is lifted.
func (h *Holdings) Gone() (gone, held []string) {
	for _, v := range h.state.Roster.List() {
		switch {
		case v.Erased && v.Hold:
			held = append(held, v.Code)
		case v.Erased:
			gone = append(gone, v.Code)
		}
	}
	return gone, held
}

func compare(a, b asset.Hash) int { return bytes.Compare(a[:], b[:]) }
