package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"
)

const (
	progressEvery = 100 * time.Millisecond
	progressWidth = 24
)

// progress draws one line that is rewritten, on a terminal only. A nil progress draws nothing.
type progress struct {
	w     io.Writer
	mu    sync.Mutex
	next  time.Time
	drawn bool
}

// newProgress returns nil unless w is a terminal that can rewrite a line.
func newProgress(w io.Writer) *progress {
	f, ok := w.(*os.File)
	if !ok || !isTerminal(f) || os.Getenv("TERM") == "dumb" {
		return nil
	}
	return &progress{w: w}
}

// update shows what is being done and the share done.
func (p *progress) update(what string, share float64) {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	now := time.Now()
	if now.Before(p.next) {
		return
	}
	p.next = now.Add(progressEvery)
	p.drawn = true
	share = min(max(share, 0), 1)
	full := int(share * progressWidth)
	fmt.Fprintf(p.w, "\r[%s%s] %3.0f %%  %s\x1b[K", strings.Repeat("#", full), strings.Repeat(".", progressWidth-full), 100*share, what)
}

// clear takes the line away.
func (p *progress) clear() {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.drawn {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.drawn = false
	}
}

// part maps a piece of the work from lo to hi of the whole; nil without a terminal.
func (p *progress) part(lo, hi float64) func(string, float64) {
	if p == nil {
		return nil
	}
	return func(what string, share float64) { p.update(what, lo+float64((hi-lo)*share)) }
}
