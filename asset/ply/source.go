package ply

// source gives the numbers of rows one after another, whatever they are written as. what names the
// value for errors.
type source interface {
	float32(k kind, what string) (float32, error)
	float64(k kind, what string) (float64, error)
	integer(k kind, what string) (int64, error)
	skip(k kind, n int64, what string) error
	row() error // before each row
	endRow(what string) error
	fault(format string, args ...any) error
	read() int64 // bytes so far
}
