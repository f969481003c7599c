// Package git keeps a catalog's records as the files of a bare git repository that any git client can
// clone and read. It only ever adds: one commit for each batch of records, on one branch.
//
// What git defines is coded by the library go-git: names, trees, commits, settings, indexes, objects in
// files of their own and changes to base objects are read and written by it, and it scans whole packs. What
// a catalog asks beyond that is done here: every object, name and reference is durable before an append
// returns (the library never syncs), a batch is one pack file, the branch moves only by compare and rename
// under the caller's lock (the library overwrites it in place), histories meet as unions, and packs roll up
// without a moment in which an object stands nowhere.
//
// For speed, three things the library can do are done here too, each with its figures: a pack is written
// ([packWriter.add]), an index is searched where it lies ([pack.find]), and an object is read at its place
// in a pack ([pack.unpack]).
//
// Source of the byte layouts read and written here: git's own technical documentation, gitformat-pack and
// gitrepository-layout, as of git 2.39 (from memory; checked in tests against the git client and the
// library).
package git

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/filemode"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// Hash names a git object: the SHA-1 of its type, length and content. It only addresses; what a record is
// worth rests on the record's own id.
type Hash plumbing.Hash

// String returns the 40 lower-case hex digits.
func (h Hash) String() string { return plumbing.Hash(h).String() }

// Short returns the first 12 hex digits, for messages.
func (h Hash) Short() string { return hex.EncodeToString(h[:6]) }

// IsZero reports whether h names nothing.
func (h Hash) IsZero() bool { return h == Hash{} }

// ParseHash reads 40 hex digits.
func ParseHash(s string) (Hash, error) {
	if !plumbing.IsHash(s) {
		return Hash{}, fmt.Errorf("object name %q: allowed are %d hex digits", s, 2*len(Hash{}))
	}
	return Hash(plumbing.NewHash(s)), nil
}

type objectType = plumbing.ObjectType

const (
	typeCommit = plumbing.CommitObject
	typeTree   = plumbing.TreeObject
	typeBlob   = plumbing.BlobObject
	typeTag    = plumbing.TagObject
	typeOffset = plumbing.OFSDeltaObject // a change to the object at an earlier offset of the same pack
	typeRef    = plumbing.REFDeltaObject // a change to a named object
)

// hashObject returns the name of an object. The library knows content that the published attacks on SHA-1
// make and gives it a name of its own.
func hashObject(t objectType, content []byte) Hash { return Hash(plumbing.ComputeHash(t, content)) }

// named is an object whose name is known, so that decoding it does not hash it again.
type named struct {
	plumbing.MemoryObject
	name Hash
}

// Hash returns the known name.
func (n *named) Hash() plumbing.Hash { return plumbing.Hash(n.name) }

func newNamed(t objectType, h Hash, content []byte) *named {
	n := &named{name: h}
	n.SetType(t)
	n.Write(content) // to memory, always all of it
	return n
}

// encoded returns the content of an object.
func encoded(o interface {
	Encode(plumbing.EncodedObject) error
}) ([]byte, error) {
	var m plumbing.MemoryObject
	if err := o.Encode(&m); err != nil {
		return nil, err
	}
	r, err := m.Reader()
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}

// entry is one line of a tree.
type entry struct {
	name string
	hash Hash
	tree bool
}

// compareEntries orders a tree as git does: a folder sorts as if its name ended in a slash.
func compareEntries(a, b entry) int {
	n := min(len(a.name), len(b.name))
	if c := strings.Compare(a.name[:n], b.name[:n]); c != 0 {
		return c
	}
	return int(a.after(n)) - int(b.after(n))
}

func (e entry) after(n int) byte {
	switch {
	case n < len(e.name):
		return e.name[n]
	case e.tree:
		return '/'
	}
	return 0
}

const (
	modeFile = "100644 " // filemode.Regular
	modeTree = "40000 "  // filemode.Dir
)

// encodeTree writes a tree whose entries are in order.
func encodeTree(entries []entry) []byte {
	t := object.Tree{Entries: make([]object.TreeEntry, len(entries))}
	for i, e := range entries {
		t.Entries[i] = object.TreeEntry{Name: e.name, Mode: filemode.Regular, Hash: plumbing.Hash(e.hash)}
		if e.tree {
			t.Entries[i].Mode = filemode.Dir
		}
	}
	content, err := encoded(&t)
	if err != nil {
		panic("git: tree: " + err.Error()) // parseTree and checkPath let no such name in, callers sort
	}
	return content
}

// parseTree reads a tree of files and folders in order. The library reads other modes too, and other
// spellings of these, under which the tree would not come out again as it is.
func parseTree(content []byte) (entries []entry, err error) {
	defer guard(&err)
	var t object.Tree
	if err := t.Decode(newNamed(typeTree, Hash{}, content)); err != nil {
		return nil, err
	}
	entries = make([]entry, len(t.Entries))
	for i, e := range t.Entries {
		mode := modeFile
		if e.Mode == filemode.Dir {
			mode = modeTree
		}
		if !bytes.HasPrefix(content, []byte(mode)) {
			got, _, _ := bytes.Cut(content, []byte{' '})
			return nil, fmt.Errorf("entry %q: mode %s, allowed are %s, %s", e.Name, got, modeFile[:6], modeTree[:5])
		}
		if strings.Contains(e.Name, "/") {
			return nil, fmt.Errorf("entry %q: a name has no slash", e.Name)
		}
		content = content[len(mode)+len(e.Name)+1+len(e.Hash):]
		entries[i] = entry{name: e.Name, hash: Hash(e.Hash), tree: mode == modeTree}
	}
	if !slices.IsSortedFunc(entries, compareEntries) {
		return nil, fmt.Errorf("entries are not in order")
	}
	return entries, nil
}

// Commit is one batch in the history.
type Commit struct {
	Hash    Hash
	Tree    Hash
	Parents []Hash
	Author  string // the site that wrote it
	When    time.Time
	Message string
}

// encode writes a commit. The author's address lies under .invalid, which no mail reaches (RFC 2606).
func (c *Commit) encode() []byte {
	site := object.Signature{Name: c.Author, Email: c.Author + "@mien.invalid", When: c.When.UTC()}
	o := object.Commit{
		Author: site, Committer: site, Message: strings.TrimRight(c.Message, "\n") + "\n",
		TreeHash: plumbing.Hash(c.Tree), ParentHashes: make([]plumbing.Hash, len(c.Parents)),
	}
	for i, p := range c.Parents {
		o.ParentHashes[i] = plumbing.Hash(p)
	}
	content, err := encoded(&o)
	if err != nil {
		panic("git: commit: " + err.Error()) // memory takes every byte
	}
	return content
}

func parseCommit(h Hash, content []byte) (c *Commit, err error) {
	defer guard(&err)
	var o object.Commit
	if err := o.Decode(newNamed(typeCommit, h, content)); err != nil {
		return nil, err
	}
	if o.TreeHash.IsZero() {
		return nil, fmt.Errorf("no tree")
	}
	if o.Author.When.IsZero() { // what the library leaves of a line that it cannot read
		return nil, fmt.Errorf("no author with a time")
	}
	c = &Commit{
		Hash: h, Tree: Hash(o.TreeHash), Author: o.Author.Name, When: o.Author.When.UTC(),
		Message: strings.TrimRight(o.Message, "\n"),
	}
	for _, p := range o.ParentHashes {
		c.Parents = append(c.Parents, Hash(p))
	}
	return c, nil
}
