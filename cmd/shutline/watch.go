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
	MS    float64 `json:"ms"`
	Under string  `json:"under"` // our function that the toolkit called
	In    string  `json:"in"`    // our innermost function, at most of the looks
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
	var under string
	var held, last = time.Duration(0), time.Now()
	seen := map[string]int{}
	for range time.Tick(watchEvery) {
		now := time.Now()
		at, in := ourCode(buf[:runtime.Stack(buf, true)])
		if at != under {
			if under != "" && held >= watchLeast {
				most := ""
				for f, n := range seen {
					if n > seen[most] || n == seen[most] && f < most {
						most = f
					}
				}
				_ = out.Encode(hold{float64(held) / float64(time.Millisecond), under, most}) // a watch that cannot write stops nothing
			}
			under, held = at, watchEvery
			clear(seen)
		} else {
			held += min(now.Sub(last), watchGap)
		}
		last = now
		seen[in]++
	}
}

// ourCode returns the outermost and the innermost of our functions that the toolkit's loop has called; "" where it is at none.
func ourCode(stacks []byte) (outer, inner string) {
	begin := bytes.Index(stacks, []byte("goroutine 1 ["))
	if begin < 0 {
		return "", ""
	}
	stack := stacks[begin:]
	if end := bytes.Index(stack, []byte("\n\n")); end >= 0 {
		stack = stack[:end]
	}
	loop, _, found := bytes.Cut(stack, []byte("(*gLDriver).runGL"))
	if !found {
		return "", ""
	}
	for line := range bytes.Lines(loop) {
		name, ok := strings.CutPrefix(string(bytes.TrimSpace(line)), "shutline/")
		if !ok || strings.Contains(name, ".go:") {
			continue
		}
		if at := strings.LastIndexByte(name, '('); at > 0 {
			name = name[:at]
		}
		if inner == "" {
			inner = name
		}
		outer = name
	}
	return outer, inner
}
