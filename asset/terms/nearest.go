package terms

import (
	"fmt"
	"sort"
	"strings"
)

// UnknownError says that a word stands in no table, and which words come near.
type UnknownError struct {
	What string
	Got  string
	Near []string
}

func (e *UnknownError) Error() string {
	return fmt.Sprintf("%s %q: unknown, nearest: %s", e.What, e.Got, strings.Join(e.Near, ", "))
}

// Nearest returns up to three words of list, nearest to s by edit distance, ties in list order.
func Nearest(s string, list []string) []string {
	type cand struct{ i, d int }
	c := make([]cand, len(list))
	for i, w := range list {
		c[i] = cand{i, editDistance(strings.ToLower(s), w)}
	}
	sort.SliceStable(c, func(a, b int) bool { return c[a].d < c[b].d })
	var out []string
	for i := 0; i < len(c) && i < 3; i++ {
		out = append(out, list[c[i].i])
	}
	return out
}

// editDistance is the least number of single-character edits that turn a into b.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		prev := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			next := min(row[j]+1, row[j-1]+1, prev+cost)
			prev, row[j] = row[j], next
		}
	}
	return row[len(b)]
}
