package catalog

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"

	"mien/asset"
	"mien/catalog/record"
)

// FileRef is a file of the store that a record names.
type FileRef struct {
	Hash asset.Hash
	Size int64
}

// Files returns the files of the store that a record names, in the order of its text: every object in its
// open body, at any depth, that has a member "hash" of 64 hex digits and a member "size".
func Files(e record.Entry) []FileRef {
	if !bytes.Contains(e.Open, []byte(`"size":`)) {
		return nil
	}
	var v any
	if json.Unmarshal(e.Open, &v) != nil {
		return nil
	}
	return appendFiles(nil, v)
}

func appendFiles(refs []FileRef, v any) []FileRef {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			refs = appendFiles(refs, item)
		}
	case map[string]any:
		text, _ := v["hash"].(string)
		size, ok := v["size"].(float64) // exact: a record's integers fit
		if h, err := asset.ParseHash(text); err == nil && ok {
			return append(refs, FileRef{h, int64(size)})
		}
		for _, name := range slices.Sorted(maps.Keys(v)) {
			refs = appendFiles(refs, v[name])
		}
	}
	return refs
}

// Mentions returns every file hash in the open body of a record, in the order of its text, also of files
// that need not be in the store, and of those whose size it does not tell.
func Mentions(e record.Entry) []asset.Hash {
	var found []asset.Hash
	for rest := e.Open; len(rest) >= 2*len(asset.Hash{})+2; {
		from := bytes.IndexByte(rest, '"')
		if from < 0 {
			break
		}
		rest = rest[from+1:]
		to := bytes.IndexByte(rest, '"')
		if to < 0 {
			break
		}
		if to != 2*len(asset.Hash{}) {
			continue
		}
		if h, err := asset.ParseHash(string(rest[:to])); err == nil {
			found = append(found, h)
			rest = rest[to+1:]
		}
	}
	return found
}
