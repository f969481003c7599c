package ui

import (
	"fmt"
	"io"
	"os"
	"sync"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"
)

// Progress shows how far long work has come: a bar on a terminal, nothing elsewhere.
// Its methods may be called from several goroutines.
type Progress struct {
	mu   sync.Mutex
	out  io.Writer
	bars *mpb.Progress
	bar  *mpb.Bar
}

// NewProgress returns a progress display on w; quiet, or a w that is no terminal, shows nothing.
func NewProgress(w io.Writer, quiet bool) *Progress {
	f, ok := w.(*os.File)
	if quiet || !ok || !term.IsTerminal(int(f.Fd())) {
		return &Progress{}
	}
	return &Progress{out: w, bars: mpb.New(mpb.WithOutput(w), mpb.WithWidth(40))}
}

// Start begins a bar of total steps.
func (p *Progress) Start(what string, total int64) {
	if p.bars == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.finish()
	p.bar = p.bars.AddBar(total, mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Name(what+" ")),
		mpb.AppendDecorators(decor.Percentage(), decor.Name("  "), decor.AverageETA(decor.ET_STYLE_MMSS)))
}

// Step adds n steps.
func (p *Progress) Step(n int64) {
	if p.bars == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar != nil {
		p.bar.IncrInt64(n)
	}
}

// Close ends the display.
func (p *Progress) Close() {
	if p.bars == nil {
		return
	}
	p.mu.Lock()
	p.finish()
	p.mu.Unlock()
	p.bars.Wait()
}

func (p *Progress) finish() {
	if p.bar != nil {
		p.bar.Abort(true)
		p.bar = nil
	}
}

// Plural returns "1 file", "3 files".
func Plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
