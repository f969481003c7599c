package catalog

import (
	"context"
	"errors"
	"maps"
	"os"
	"slices"
	"strings"

	"mien/catalog/durable"
	"mien/catalog/record"
)

// ShareKeys gives each of two copies the keys that the other has: how many came here and how many went
// there, counted by subject. Destroyed keys stay destroyed, and those of subjects that skip names stay where
// they are. If write is false, it only counts.
//
// Whoever holds a copy with its keys can read everything in it.
func (c *Catalog) ShareKeys(ctx context.Context, other *Catalog, skip func(subject string) bool, write bool) (came, went int, err error) {
	err = lockBoth(ctx, c, other, func() error {
		names := map[string]bool{}
		for _, side := range [...]*Catalog{c, other} {
			side.keys.forget()
			files, err := os.ReadDir(side.keys.dir)
			if err != nil {
				return err
			}
			for _, f := range files {
				if name, ok := strings.CutSuffix(f.Name(), ".key"); ok && !skip(name) {
					names[name] = true
				}
			}
		}
		for _, name := range slices.Sorted(maps.Keys(names)) {
			own, err := c.keys.living(name)
			if err != nil {
				return err
			}
			theirs, err := other.keys.living(name)
			if err != nil {
				return other.afar(err)
			}
			if own == nil || theirs == nil {
				continue
			}
			for _, side := range [...]struct {
				k           *keyring
				have, other []namedKey
				n           *int
			}{{c.keys, own, theirs, &came}, {other.keys, theirs, own, &went}} {
				added, err := side.k.join(name, side.have, side.other, write)
				if err != nil {
					return err
				}
				if added {
					*side.n++
				}
			}
		}
		return nil
	})
	return came, went, err
}

// living returns the keys called name, empty if there are none, and nil if they were destroyed.
func (k *keyring) living(name string) ([]namedKey, error) {
	keys, err := k.get(name)
	var destroyed *KeyDestroyedError
	switch {
	case errors.As(err, &destroyed):
		return nil, nil
	case errors.Is(err, record.ErrNoKey):
		return []namedKey{}, nil
	}
	return keys, err
}

// join adds keys to those called name, and reports whether there was one to add. The file is the same
// wherever the same keys have met. The caller holds the lock.
func (k *keyring) join(name string, have, more []namedKey, write bool) (added bool, err error) {
	all := slices.Clone(have)
	for _, key := range more {
		if !slices.Contains(all, key) {
			all = append(all, key)
		}
	}
	if len(all) == len(have) || !write {
		return len(all) > len(have), nil
	}
	lines := make([]string, len(all))
	for i := range all {
		lines[i] = record.ID(all[i].Key).String() + "\n"
	}
	slices.Sort(lines)
	text := keyIntro + "\n" + strings.Join(lines, "")
	if err := durable.Write(k.path(name), []byte(text), 0o600); err != nil {
		return false, err
	}
	k.forget()
	return true, nil
}

// KeyDestroyed reports whether the key of a subject was destroyed in this copy.
func (c *Catalog) KeyDestroyed(subject string) (bool, error) {
	keys, err := newKeyring(c.keys.dir).living(subject)
	return keys == nil && err == nil, err
}
