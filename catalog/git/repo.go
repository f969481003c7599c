package git

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/format/config"

	"mien/catalog/durable"
)

// Repo is a bare repository of records. Reading is safe for use by several goroutines; whoever adds holds
// the catalog's lock.
type Repo struct {
	dir string
	obj *objects
}

// settings returns the configuration of the repository. It keeps git clients from tidying behind the
// catalog's back: a repack or prune would run without its lock. Reading and cloning need none of it.
func settings() ([]byte, error) {
	c := config.New()
	c.Section("core").AddOption("repositoryformatversion", "0").AddOption("filemode", "false").
		AddOption("bare", "true").AddOption("logallrefupdates", "false")
	c.Section("gc").AddOption("auto", "0").AddOption("packRefs", "false")
	c.Section("receive").AddOption("denyNonFastForwards", "true").AddOption("denyDeletes", "true")
	var text bytes.Buffer
	err := config.NewEncoder(&text).Encode(c)
	return text.Bytes(), err
}

// headText is what the file HEAD holds, which names the branch.
func headText() string { return plumbing.NewSymbolicReference(plumbing.HEAD, Branch).Strings()[1] }

// Init creates an empty repository in dir. It is not usable before its first [Repo.Append].
func Init(dir string) error {
	for _, sub := range [...]string{"objects/info", "objects/pack", "refs/heads", "refs/tags"} {
		if err := durable.Mkdir(filepath.Join(dir, filepath.FromSlash(sub))); err != nil {
			return err
		}
	}
	text, err := settings()
	if err != nil {
		return err
	}
	if err := durable.Write(filepath.Join(dir, "config"), text, 0o600); err != nil {
		return err
	}
	return durable.Write(filepath.Join(dir, "HEAD"), []byte(headText()+"\n"), 0o600)
}

// Open returns the repository in dir, which [Init] made. A folder that lacks what every repository has is
// a [DamageError].
func Open(dir string) (*Repo, error) {
	for _, name := range [...]string{"HEAD", "config", "objects/pack", "refs/heads"} {
		if _, err := os.Stat(filepath.Join(dir, filepath.FromSlash(name))); errors.Is(err, fs.ErrNotExist) {
			return nil, &DamageError{Object: name, Fault: "is missing"}
		} else if err != nil {
			return nil, err
		}
	}
	r := &Repo{dir: dir, obj: &objects{dir: filepath.Join(dir, "objects")}}
	if err := r.obj.refresh(); err != nil {
		return nil, err
	}
	return r, nil
}

// Close lets go of the open files.
func (r *Repo) Close() error {
	r.obj.close()
	return nil
}

// File is a record to be added.
type File struct {
	Path string // with slashes
	Data []byte
}

// Batch says what is added, and who says so.
type Batch struct {
	Files   []File
	Author  string // the site
	When    time.Time
	Message string
}

// Append adds files to the newest commit parent and moves the branch to the commit that it makes; a zero
// parent starts the history. When it returns, everything is durable; if it fails, the branch has not moved.
//
// The caller holds the catalog's lock and read parent under it. A path that already holds other bytes is
// an error, as is a branch that is no longer at parent ([ErrMoved]).
func (r *Repo) Append(parent Hash, b Batch) (Hash, error) {
	if err := r.sweep(); err != nil {
		return Hash{}, err
	}
	c := &Commit{Author: b.Author, When: b.When, Message: b.Message}
	var root Hash
	if !parent.IsZero() {
		p, err := r.Commit(parent)
		if err != nil {
			return Hash{}, err
		}
		root, c.Parents = p.Tree, []Hash{parent}
	}
	w := newPackWriter()
	var err error
	if c.Tree, err = r.graft(w, root, "", b.Files); err != nil {
		return Hash{}, err
	}
	c.Hash = w.add(typeCommit, c.encode())
	if _, err := w.place(r.obj.folder()); err != nil {
		return Hash{}, err
	}
	if err := r.move(parent, c.Hash); err != nil {
		return Hash{}, err
	}
	return c.Hash, r.obj.refresh()
}

// Commit returns a commit of the history.
func (r *Repo) Commit(h Hash) (*Commit, error) {
	content, err := r.obj.read(h, typeCommit)
	if err != nil {
		return nil, err
	}
	c, err := parseCommit(h, content)
	if err != nil {
		return nil, &DamageError{Object: "commit " + h.Short(), Fault: err.Error()}
	}
	return c, nil
}

func (r *Repo) tree(h Hash) ([]entry, error) {
	if h.IsZero() {
		return nil, nil
	}
	content, err := r.obj.read(h, typeTree)
	if err != nil {
		return nil, err
	}
	entries, err := parseTree(content)
	if err != nil {
		return nil, &DamageError{Object: "tree " + h.Short(), Fault: err.Error()}
	}
	return entries, nil
}

// Blob returns the content of a file. It must not be changed.
func (r *Repo) Blob(h Hash) ([]byte, error) { return r.obj.read(h, typeBlob) }

// sweep removes what a killed process may have left in the pack folder.
func (r *Repo) sweep() error { return durable.Sweep(r.obj.folder()) }

// splitFirst cuts a path after its first part.
func splitFirst(path string) (first, rest string) {
	first, rest, _ = strings.Cut(path, "/")
	return first, rest
}

var errPath = errors.New("a path must be plain names joined by slashes")

func checkPath(path string) error {
	for part := range strings.SplitSeq(path, "/") {
		if part == "" || part == "." || part == ".." || strings.EqualFold(part, ".git") || strings.ContainsAny(part, "\\:\x00") {
			return fmt.Errorf("path %q: %w", path, errPath)
		}
	}
	return nil
}

// Load brings all records into memory, for reading many of them; Unload lets them go.
func (r *Repo) Load() error { return r.obj.load() }

// Unload undoes [Repo.Load].
func (r *Repo) Unload() { r.obj.unload() }
