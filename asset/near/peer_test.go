package near

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"mien/asset/mesh"
)

// BenchmarkPeerData builds an index on the first scan of each pair in the folder named by the
// environment variable NEAR_PEER_DATA and asks for the distance of every vertex of the second, as
// scanned and moved back by the known motion. The folder holds SIZE-gen1.ply, SIZE-gen2.ply (binary,
// eight floats a vertex) and truth.txt, a matrix of 4 x 4 row by row. Reported are CPU milliseconds,
// the least of all rounds, which other work on the machine hardly touches.
func BenchmarkPeerData(b *testing.B) {
	dir := os.Getenv("NEAR_PEER_DATA")
	if dir == "" {
		b.Skip("NEAR_PEER_DATA names no folder")
	}
	truth := readTruth(b, filepath.Join(dir, "truth.txt"))
	for _, size := range []string{"50k", "500k", "2M", "10M"} {
		name := filepath.Join(dir, size)
		if _, err := os.Stat(name + "-gen1.ply"); err != nil {
			continue
		}
		older, newer := readPLY(b, name+"-gen1.ply"), readPLY(b, name+"-gen2.ply")
		for _, mode := range []string{"raw", "aligned"} {
			at := make([]mesh.Vec, len(newer.Pos))
			for i := range at {
				at[i] = newer.At(uint32(i))
				if mode == "aligned" {
					at[i] = moveBack(&truth, at[i])
				}
			}
			b.Run(size+"-"+mode, func(b *testing.B) {
				build, query := math.Inf(1), math.Inf(1)
				var hits []Hit
				for range b.N {
					t0 := cpuTime(b)
					ix, err := Build(ctx, older)
					if err != nil {
						b.Fatal(err)
					}
					t1 := cpuTime(b)
					hits, _, err = ix.ClosestAll(ctx, len(at), func(i int) mesh.Vec { return at[i] }, 0)
					if err != nil {
						b.Fatal(err)
					}
					build, query = min(build, (t1-t0).Seconds()), min(query, (cpuTime(b)-t1).Seconds())
				}
				var sum float64
				for _, h := range hits {
					sum += h.DistM
				}
				b.ReportMetric(build*1e3, "build-cpu-ms")
				b.ReportMetric(query*1e3, "query-cpu-ms")
				b.ReportMetric((build+query)*1e3, "cpu-ms")
				b.ReportMetric(sum/float64(len(hits))*1e3, "mean-mm")
			})
		}
	}
}

// cpuTime returns the time that this process has kept processors busy.
func cpuTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func readTruth(b *testing.B, name string) (m [16]float64) {
	f, err := os.Open(name)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	for i := range m {
		if _, err := fmt.Fscan(f, &m[i]); err != nil {
			b.Fatal(err)
		}
	}
	return m
}

func moveBack(m *[16]float64, p mesh.Vec) (q mesh.Vec) {
	d := p.Sub(mesh.Vec{m[3], m[7], m[11]})
	for k := range q {
		q[k] = float64(float32(m[k]*d[0] + m[4+k]*d[1] + m[8+k]*d[2]))
	}
	return q
}

func readPLY(b *testing.B, name string) *mesh.Mesh {
	f, err := os.Open(name)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	r := bufio.NewReaderSize(f, 1<<20)
	var vertices, faces int
	for line := ""; line != "end_header"; {
		if line, err = r.ReadString('\n'); err != nil {
			b.Fatal(err)
		}
		line = strings.TrimSpace(line)
		for format, to := range map[string]*int{"element vertex %d": &vertices, "element face %d": &faces} {
			fmt.Sscanf(line, format, to)
		}
	}
	m := &mesh.Mesh{Pos: make([][3]float32, vertices), Tri: make([][3]uint32, faces)}
	row := make([]byte, 32)
	number := binary.LittleEndian.Uint32
	for i := range m.Pos {
		if _, err := io.ReadFull(r, row); err != nil {
			b.Fatal(err)
		}
		for k := range m.Pos[i] {
			m.Pos[i][k] = math.Float32frombits(number(row[4*k:]))
		}
	}
	for i := range m.Tri {
		if _, err := io.ReadFull(r, row[:13]); err != nil {
			b.Fatal(err)
		}
		for k := range m.Tri[i] {
			m.Tri[i][k] = number(row[1+4*k:])
		}
	}
	return m
}
