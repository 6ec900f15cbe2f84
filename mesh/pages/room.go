package pages

import (
	"math"
	"runtime"
	"runtime/debug"
	"sync"
)

// Room is memory that this process can still take.
type Room struct {
	Bytes int64
	Of    string // what sets the bound, as the subject of a sentence: "this machine"
}

// own is the bound that GOMEMLIMIT set at the start, MaxInt64 for none.
var own = debug.SetMemoryLimit(-1)

// Left returns how much memory this process can still take, with what it holds and does not use; ok is false where the
// system does not tell.
func Left() (r Room, ok bool) {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	idle, reserved := int64(m.HeapIdle-m.HeapReleased), int64(m.HeapIdle)
	for _, b := range bounds("/") {
		left := b.left + idle
		if b.addresses {
			left = b.left + reserved
		}
		if !ok || left < r.Bytes {
			r, ok = Room{left, b.of}, true
		}
	}
	if own < math.MaxInt64 {
		if left := own - int64(m.Sys-m.HeapReleased) + idle; !ok || left < r.Bytes {
			r, ok = Room{left, "GOMEMLIMIT"}, true
		}
	}
	r.Bytes = max(0, r.Bytes)
	return r, ok
}

// tight is what Tighten has set.
var tight struct {
	sync.Mutex
	limit int64 // of the Go heap and what lies outside it together; 0: none
	held  int64 // outside it, as working memory
}

// Tighten has the garbage of this process collected in time for the memory that is left, unless GOMEMLIMIT says otherwise: the
// collector would else let the heap grow to twice what is in use, whether there is room for it or not. Working memory
// outside the heap counts as well while it is held.
func Tighten() {
	if own < math.MaxInt64 {
		return
	}
	if left, ok := Left(); ok {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		tight.Lock()
		defer tight.Unlock()
		tight.limit = int64(m.Sys-m.HeapIdle) + tight.held + left.Bytes/100*usable
		setLimit()
	}
}

// usable is the share, in hundredths, of the memory that is left: the rest is the program's code, its files' pages and the system's own.
const usable = 85

// hold counts working memory outside the Go heap.
func hold(bytes int64) {
	tight.Lock()
	defer tight.Unlock()
	tight.held += bytes
	setLimit()
}

// setLimit gives the heap what is left of the limit; tight is locked.
func setLimit() {
	if tight.limit > 0 {
		debug.SetMemoryLimit(max(tight.limit-tight.held, 0))
	}
}

// bound is one of the system's.
type bound struct {
	left      int64
	of        string
	addresses bool // it counts addresses, also those given back
}
