package main

import (
	"bytes"
	"encoding/json"
	"io"
	"runtime"
	"strings"
	"time"
)

// hold is how long our own code kept the drawing thread without a pause.
type hold struct {
	MS float64 `json:"ms"`
	// CPU is how long the thread was at work meanwhile, ms; 0: the system does not tell. On a busy machine it is
	// kept waiting for longer than that, which is none of our code's.
	CPU float64 `json:"cpu"`
	// Toolkit is how much of MS was spent in the toolkit's own functions, called by ours.
	Toolkit float64 `json:"toolkit"`
	Under   string  `json:"under"` // our function that the toolkit called
	In      string  `json:"in"`    // our innermost function, at most of the looks
}

const (
	// watchEvery is how often the watch looks; what it reports is true to about two looks.
	watchEvery = 3 * time.Millisecond
	// watchGap is the longest that counts between two looks: on a busy machine the watch itself is kept waiting.
	watchGap = 4 * watchEvery
	// watchLeast is the least that is reported.
	watchLeast = 8 * time.Millisecond
)

// watch looks at what the drawing thread, goroutine 1, is at, and writes down how long our own code holds it.
// The toolkit's own painting does not count. It runs until the program ends.
func watch(to io.Writer) {
	out := json.NewEncoder(to)
	buf := make([]byte, 1<<20)
	var now hold
	last, worked := time.Now(), drawingTime()
	seen := map[string]int{}
	for range time.Tick(watchEvery) {
		t, w := time.Now(), drawingTime()
		at := ourCode(buf[:runtime.Stack(buf, true)])
		if at.outer != now.Under {
			if now.Under != "" && now.MS >= ms(watchLeast) {
				for f, n := range seen {
					if n > seen[now.In] || n == seen[now.In] && f < now.In {
						now.In = f
					}
				}
				_ = out.Encode(now) // a watch that cannot write stops nothing
			}
			now = hold{Under: at.outer}
			clear(seen)
		}
		passed := min(t.Sub(last), watchGap)
		if now.MS == 0 {
			passed = watchEvery
		}
		now.MS += ms(passed)
		now.CPU += ms(min(w-worked, passed))
		if at.toolkit {
			now.Toolkit += ms(passed)
		}
		last, worked = t, w
		seen[at.inner]++
	}
}

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// place is what the drawing thread is at: the outermost and the innermost of our functions that the toolkit's loop has
// called, "" where it is at none, and whether the innermost has called the toolkit.
type place struct {
	outer, inner string
	toolkit      bool
}

// ourCode reads the drawing thread's place from the stacks of all goroutines.
func ourCode(stacks []byte) (p place) {
	begin := bytes.Index(stacks, []byte("goroutine 1 ["))
	if begin < 0 {
		return p
	}
	stack := stacks[begin:]
	if end := bytes.Index(stack, []byte("\n\n")); end >= 0 {
		stack = stack[:end]
	}
	loop, _, found := bytes.Cut(stack, []byte("(*gLDriver).runGL"))
	if !found {
		return p
	}
	toolkit := false
	for line := range bytes.Lines(loop) {
		s := string(bytes.TrimSpace(line))
		name, ok := strings.CutPrefix(s, "shutline/")
		if !ok || strings.Contains(name, ".go:") {
			toolkit = toolkit || strings.HasPrefix(s, "fyne.io/")
			continue
		}
		if at := strings.LastIndexByte(name, '('); at > 0 {
			name = name[:at]
		}
		if p.inner == "" {
			p.inner, p.toolkit = name, toolkit
		}
		p.outer = name
	}
	return p
}
