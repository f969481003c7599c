// Package store is the content-addressed home of scan files: what a file is called is the hash of its bytes.
package store

import (
	"context"
	"fmt"
	"io"

	"mien/asset"
)

// Info describes a stored file.
type Info struct {
	Hash asset.Hash
	Size int64 // bytes
}

// Store keeps files by content. Methods are safe for use by several goroutines and processes.
type Store interface {
	// Put stores all bytes of r and returns their hash and count. When it returns, the file is durable.
	// Bytes that are already here are kept once and existed is true; Put makes sure that the standing
	// copy is whole and replaces it if it is not. A failed or cancelled Put leaves no trace.
	Put(ctx context.Context, r io.Reader) (h asset.Hash, size int64, existed bool, err error)

	// Get opens a file. The reader checks the content as it passes: instead of io.EOF it returns a
	// [DamageError] if the bytes are not those of h. A reader closed early has proved nothing.
	// It returns a [MissingError] if h is not here.
	Get(ctx context.Context, h asset.Hash) (io.ReadCloser, error)

	// Has reports whether a file is here, without reading it.
	Has(ctx context.Context, h asset.Hash) (bool, error)

	// Stat returns the size of a file, or a [MissingError].
	Stat(ctx context.Context, h asset.Hash) (Info, error)

	// Walk calls f for each file in ascending order of hash. It stops at the first error of f.
	Walk(ctx context.Context, f func(Info) error) error

	// Remove deletes a file. To remove one that is not here is no error.
	Remove(ctx context.Context, h asset.Hash) error
}

// Pather is a [Store] whose files have names on this machine, for programs that want to open them.
type Pather interface {
	Path(h asset.Hash) string
}

// MissingError says that a file is not in the store.
type MissingError struct{ Hash asset.Hash }

func (e *MissingError) Error() string {
	return fmt.Sprintf("store object %s: not here", e.Hash.Short())
}

// DamageError says that a stored file holds other bytes than its name promises.
type DamageError struct {
	Hash asset.Hash // as named
	Got  asset.Hash // of the bytes that stand there
}

func (e *DamageError) Error() string {
	return fmt.Sprintf("store object %s: content hash is %s", e.Hash.Short(), e.Got.Short())
}

// Check reads a stored file from end to end. It returns a [MissingError] or a [DamageError] if the file is
// not what h promises, and the number of bytes read.
func Check(ctx context.Context, s Store, h asset.Hash) (int64, error) {
	r, err := s.Get(ctx, h)
	if err != nil {
		return 0, err
	}
	defer r.Close()
	return io.CopyBuffer(struct{ io.Writer }{io.Discard}, r, make([]byte, 256<<10))
}
