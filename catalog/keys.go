package catalog

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"mien/catalog/durable"
	"mien/catalog/record"
)

// catalogKey names the key of records that are about no subject. No subject may have this code.
const catalogKey = "catalog"

// keyIntro is the first line of a key file.
const keyIntro = "mien key 1"

// keyring holds the keys in a folder, one file for each subject. A file may hold several keys, because two
// sites may meet that both made one: all of them open, the last one seals.
type keyring struct {
	dir  string
	mu   sync.RWMutex
	keys map[string][]namedKey
}

// namedKey is a key with its [record.Key.Name], which costs more than opening a record.
type namedKey struct {
	record.Key
	name string
}

func named(k record.Key) namedKey { return namedKey{k, k.Name()} }

func newKeyring(dir string) *keyring { return &keyring{dir: dir, keys: map[string][]namedKey{}} }

// owner is the name of the key of records about subject.
func owner(subject string) string {
	if subject == "" {
		return catalogKey
	}
	return subject
}

func (k *keyring) path(name string) string { return filepath.Join(k.dir, name+".key") }

// forget drops what was read, so that keys made or destroyed by others are seen.
func (k *keyring) forget() {
	k.mu.Lock()
	defer k.mu.Unlock()
	clear(k.keys)
}

// get returns the keys called name. It returns [record.ErrNoKey] if there is no file, and a
// [KeyDestroyedError] if the file says so.
func (k *keyring) get(name string) ([]namedKey, error) {
	k.mu.RLock()
	keys := k.keys[name]
	k.mu.RUnlock()
	if keys != nil {
		return keys, nil
	}
	if !record.ValidCode(name) {
		return nil, record.ErrNoKey
	}
	text, err := os.ReadFile(k.path(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, record.ErrNoKey
	}
	if err != nil {
		return nil, err
	}
	if keys, err = parseKeys(name, string(text)); err != nil {
		return nil, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.keys[name] = keys
	return keys, nil
}

func parseKeys(name, text string) ([]namedKey, error) {
	damaged := func(fault string) error {
		return &DamageError{Object: keysName + "/" + name + ".key", Fault: fault}
	}
	intro, rest, _ := strings.Cut(text, "\n")
	if intro != keyIntro {
		return nil, damaged(fmt.Sprintf("begins with %.20q, allowed is %q", intro, keyIntro))
	}
	var keys []namedKey
	for line := range strings.Lines(rest) {
		line = strings.TrimSuffix(line, "\n")
		if when, ok := strings.CutPrefix(line, "destroyed "); ok {
			return nil, &KeyDestroyedError{Subject: name, When: when}
		}
		key, err := record.ParseID(line) // the same 256 bits in the same letters
		if err != nil {
			return nil, damaged(fmt.Sprintf("line %d is no key", len(keys)+2))
		}
		keys = append(keys, named(record.Key(key)))
	}
	if len(keys) == 0 {
		return nil, damaged("holds no key")
	}
	return keys, nil
}

// make creates the key called name; it is durable before anything is sealed under it.
func (k *keyring) make(name string) (namedKey, error) {
	key := named(record.NewKey())
	text := keyIntro + "\n" + record.ID(key.Key).String() + "\n"
	if err := durable.Write(k.path(name), []byte(text), 0o600); err != nil {
		return key, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.keys[name] = []namedKey{key}
	return key, nil
}

// Seal implements [record.Sealer]. The first sealed record about a subject makes its key.
// The caller holds the catalog's lock.
func (k *keyring) Seal(subject string, open, body []byte) (record.Box, error) {
	if subject == catalogKey {
		return record.Box{}, fmt.Errorf("subject %q: this code is reserved", subject)
	}
	name := owner(subject)
	keys, err := k.get(name)
	var destroyed *KeyDestroyedError
	switch {
	case errors.As(err, &destroyed):
		return record.Box{}, err
	case errors.Is(err, record.ErrNoKey) && subject != "":
		key, err := k.make(name)
		if err != nil {
			return record.Box{}, err
		}
		keys = []namedKey{key}
	case err != nil:
		return record.Box{}, err
	}
	return keys[len(keys)-1].Seal(open, body), nil
}

// Unseal implements [record.Opener].
func (k *keyring) Unseal(subject string, open []byte, box record.Box) ([]byte, error) {
	keys, err := k.get(owner(subject))
	if err != nil {
		return nil, err
	}
	for i := range keys {
		if keys[i].name == box.Key {
			return keys[i].Unseal(open, box)
		}
	}
	return nil, record.ErrNoKey
}

// destroy overwrites the key called name and leaves a note in its place. On a disk that writes elsewhere
// when it overwrites, as flash does, old bytes may outlast this until the disk reuses them.
func (k *keyring) destroy(name string, when time.Time) error {
	path := k.path(name)
	if old, err := os.OpenFile(path, os.O_WRONLY, 0); err == nil {
		info, err := old.Stat()
		if err == nil {
			_, err = old.WriteAt(make([]byte, info.Size()), 0)
		}
		if err == nil {
			err = old.Sync()
		}
		old.Close()
		if err != nil {
			return err
		}
	}
	note := keyIntro + "\ndestroyed " + when.UTC().Format(time.RFC3339) + "\n"
	if err := durable.Write(path, []byte(note), 0o600); err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	delete(k.keys, name)
	return nil
}
