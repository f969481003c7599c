package git

import (
	"fmt"
	"slices"
	"strings"
)

// graft adds files to the tree named old, puts each tree that changes into w, and returns the name of the
// new one. Only the folders that receive files are read. at is the folder's path, for messages.
func (r *Repo) graft(w *packWriter, old Hash, at string, files []File) (Hash, error) {
	entries, err := r.tree(old)
	if err != nil {
		return Hash{}, err
	}
	files = slices.Clone(files)
	slices.SortStableFunc(files, func(a, b File) int { return strings.Compare(a.Path, b.Path) })

	var added []entry
	for i := 0; i < len(files); {
		if at == "" {
			if err := checkPath(files[i].Path); err != nil {
				return Hash{}, err
			}
		}
		name, rest := splitFirst(files[i].Path)
		e := entry{name: name, tree: rest != ""}
		have, found := slices.BinarySearchFunc(entries, e, compareEntries)
		j := i + 1
		if e.tree {
			var sub []File
			for j = i; j < len(files); j++ {
				first, rest := splitFirst(files[j].Path)
				if first != name || rest == "" {
					break
				}
				sub = append(sub, File{Path: rest, Data: files[j].Data})
			}
			var below Hash
			if found {
				below = entries[have].hash
			}
			e.hash, err = r.graft(w, below, at+name+"/", sub)
		} else {
			e.hash = hashObject(typeBlob, files[i].Data)
			switch {
			case !found:
				w.add(typeBlob, files[i].Data)
			case entries[have].hash != e.hash:
				err = &DamageError{Object: at + name, Fault: "other bytes stand here already"}
			}
		}
		if err != nil {
			return Hash{}, err
		}
		if found {
			entries[have].hash = e.hash
		} else {
			added = append(added, e)
		}
		i = j
	}
	entries = append(entries, added...)
	slices.SortFunc(entries, compareEntries)
	for i := 1; i < len(entries); i++ {
		if entries[i].name == entries[i-1].name {
			return Hash{}, fmt.Errorf("path %q: added twice with different content", at+entries[i].name)
		}
	}
	content := encodeTree(entries)
	if h := hashObject(typeTree, content); h == old {
		return h, nil
	}
	return w.add(typeTree, content), nil
}
