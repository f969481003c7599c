package near

// Order returns the triangle numbers along the space-filling curve: triangles that follow each other
// lie close together. The caller must not change the slice.
func (ix *Index) Order() []uint32 { return ix.tri }
