// Package git keeps a catalog's records as the files of a bare git repository that any git client can
// clone and read. It only ever adds: one commit for each batch of records, on one branch.
//
// The repository is written and read by this package itself, because a catalog asks for more than a
// version control library gives: every object, name and reference is durable before an append returns, a
// batch is one pack file, and the branch moves only by compare and rename under the caller's lock.
//
// Source of every byte layout: git's own technical documentation, gitformat-pack, gitformat-index (trees
// and commits: git-mktree, git-commit-tree) and gitrepository-layout, as of git 2.39 (from memory; checked
// in tests against the git client and against an independent library).
package git

import (
	"bytes"
	"crypto/sha1"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Hash names a git object: the SHA-1 of its type, length and content. It only addresses; what a record is
// worth rests on the record's own id.
type Hash [sha1.Size]byte

// String returns the 40 lower-case hex digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// Short returns the first 12 hex digits, for messages.
func (h Hash) Short() string { return hex.EncodeToString(h[:6]) }

// IsZero reports whether h names nothing.
func (h Hash) IsZero() bool { return h == Hash{} }

// ParseHash reads 40 hex digits.
func ParseHash(s string) (Hash, error) {
	var h Hash
	if n, err := hex.Decode(h[:], []byte(s)); err != nil || n != len(h) || len(s) != 2*len(h) {
		return Hash{}, fmt.Errorf("object name %q: allowed are %d hex digits", s, 2*len(h))
	}
	return h, nil
}

type objectType byte

const (
	typeCommit objectType = 1
	typeTree   objectType = 2
	typeBlob   objectType = 3
	typeTag    objectType = 4
	typeOffset objectType = 6 // a change to the object at an earlier offset of the same pack
	typeRef    objectType = 7 // a change to a named object
)

var typeNames = [...]string{typeCommit: "commit", typeTree: "tree", typeBlob: "blob", typeTag: "tag", 7: ""}

func (t objectType) String() string { return typeNames[t] }

// hashObject returns the name of an object.
func hashObject(t objectType, content []byte) (h Hash) {
	s := sha1.New()
	var head [32]byte
	s.Write(strconv.AppendInt(append(append(head[:0], t.String()...), ' '), int64(len(content)), 10))
	s.Write([]byte{0})
	s.Write(content)
	s.Sum(h[:0])
	return h
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
	modeFile = "100644"
	modeTree = "40000"
)

func encodeTree(entries []entry) []byte {
	var out []byte
	for _, e := range entries {
		mode := modeFile
		if e.tree {
			mode = modeTree
		}
		out = append(append(append(out, mode...), ' '), e.name...)
		out = append(append(out, 0), e.hash[:]...)
	}
	return out
}

func parseTree(content []byte) ([]entry, error) {
	text := string(content) // names share this one copy
	entries := make([]entry, 0, len(text)/64+1)
	for at := 0; at < len(text); {
		space := strings.IndexByte(text[at:], ' ')
		if space < 0 {
			return nil, fmt.Errorf("byte %d: no mode", at)
		}
		mode := text[at : at+space]
		at += space + 1
		end := strings.IndexByte(text[at:], 0)
		if end < 1 || at+end+1+len(Hash{}) > len(text) {
			return nil, fmt.Errorf("byte %d: entry does not end", at)
		}
		e := entry{name: text[at : at+end], tree: mode == modeTree}
		if !e.tree && mode != modeFile {
			return nil, fmt.Errorf("entry %q: mode %s, allowed are %s, %s", e.name, mode, modeFile, modeTree)
		}
		at += end + 1
		at += copy(e.hash[:], text[at:])
		entries = append(entries, e)
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
	var b bytes.Buffer
	fmt.Fprintf(&b, "tree %s\n", c.Tree)
	for _, p := range c.Parents {
		fmt.Fprintf(&b, "parent %s\n", p)
	}
	for _, role := range [...]string{"author", "committer"} {
		fmt.Fprintf(&b, "%s %s <%s@mien.invalid> %d +0000\n", role, c.Author, c.Author, c.When.Unix())
	}
	fmt.Fprintf(&b, "\n%s\n", strings.TrimRight(c.Message, "\n"))
	return b.Bytes()
}

func parseCommit(h Hash, content []byte) (*Commit, error) {
	c := &Commit{Hash: h}
	head, message, _ := strings.Cut(string(content), "\n\n")
	c.Message = strings.TrimRight(message, "\n")
	for line := range strings.SplitSeq(head, "\n") {
		word, rest, _ := strings.Cut(line, " ")
		var err error
		switch word {
		case "tree":
			c.Tree, err = ParseHash(rest)
		case "parent":
			var p Hash
			p, err = ParseHash(rest)
			c.Parents = append(c.Parents, p)
		case "author":
			c.Author, _, _ = strings.Cut(rest, " <")
			_, stamp, _ := strings.Cut(rest, "> ")
			seconds, _, _ := strings.Cut(stamp, " ")
			var s int64
			s, err = strconv.ParseInt(seconds, 10, 64)
			c.When = time.Unix(s, 0).UTC()
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", word, err)
		}
	}
	if c.Tree.IsZero() {
		return nil, fmt.Errorf("no tree")
	}
	return c, nil
}
