package ui

import (
	"image"
	"runtime"
	"sync/atomic"
	"time"

	"shutline/deviation/shade"
)

// frame is all that a picture of the view depends on.
type frame struct {
	models  []*shade.Model
	camera  shade.Camera
	theme   shade.Theme
	w, h    int
	ease    ease                                                  // by ask; where the view rests nothing is spared
	asked   time.Time                                             // by ask
	overlay func(img *image.RGBA, pic *shade.Picture, still bool) // drawn by the painter; nil: nothing
}

// painter draws frames on a goroutine of its own. The newest frame wins; a
// picture is handed over by post. While frames follow one another they are
// drawn quickly, and once more carefully when no other has come.
type painter struct {
	slot    chan frame
	stop    chan struct{}
	worker  worker
	deliver func(*shade.Picture, finished)
	ready   chan handover // the picture on its way to the drawing thread
	taken   chan struct{} // filled while there is none
	posted  atomic.Bool   // collect will be called
	pace    pace
	stopped atomic.Bool
}

// handover is a finished picture.
type handover struct {
	picture *shade.Picture
	done    finished
}

// restAfter is how long the view must rest before it is drawn carefully.
const restAfter = 120 * time.Millisecond

// standIns reports whether coarser models of the frame are ready and fine enough for a picture so high.
func standIns(f frame, h int) bool {
	_, ok := shade.StandIns(f.models, f.camera, h, f.ease.cells)
	return ok
}

// standInAbove is the time of a full picture above which coarser models are drawn while the view moves: what
// then is left of a tick of the toolkit's 60 a second is needed for showing the picture. Where there are no such models, pictures
// of half the size are drawn above coarseAbove, two ticks.
const (
	standInAbove = 10 * time.Millisecond
	coarseAbove  = 33 * time.Millisecond
)

func newPainter(k worker, deliver func(*shade.Picture, finished)) *painter {
	p := &painter{slot: make(chan frame, 1), stop: make(chan struct{}), worker: k, deliver: deliver, ready: make(chan handover, 1), taken: make(chan struct{}, 1)}
	p.taken <- struct{}{}
	k.aside(p.run)
	return p
}

// ask replaces the frame that waits, if any. It never blocks; only one goroutine may call it.
func (p *painter) ask(f frame) {
	f.asked, f.ease = time.Now(), eases[p.pace.level]
	select {
	case <-p.slot:
	default:
	}
	select {
	case p.slot <- f:
	default:
	}
}

// collect hands over what is finished, on the drawing thread. It is posted, and to be called with events that ask
// for another picture: the toolkit takes up what is posted and its next tick in any order, and a tick that comes first paints
// nothing; the events belong to the tick.
func (p *painter) collect() {
	select {
	case h := <-p.ready:
		if now := time.Now(); h.done.still {
			p.pace.rested(now)
		} else {
			p.pace.taken(now, h.done.asked)
		}
		p.deliver(h.picture, h.done)
		p.taken <- struct{}{}
	default:
	}
}

func (p *painter) close() {
	if !p.stopped.Swap(true) {
		close(p.stop)
	}
}

// gather is how long a frame waits for a newer one: the events of a quick mouse that the toolkit hands on together then make one picture.
const gather = 500 * time.Microsecond

func (p *painter) newest(f frame) frame {
	time.Sleep(gather)
	select {
	case f = <-p.slot:
	default:
	}
	return f
}

func (p *painter) run() {
	// One thread a processor draws; what the program has beyond (see cmd/shutline) is the drawing thread's.
	threads := runtime.NumCPU()
	var r shade.Renderer
	// The renderer writes an image again at the third frame: the one shown, the
	// one handed over and the one being drawn. So the one handed over must have
	// been taken before the next but one is begun.
	var f frame
	var cost time.Duration
	var rest <-chan time.Time
	for {
		still := false
		select {
		case <-p.stop:
			return
		case f = <-p.slot:
			f = p.newest(f)
		case <-rest:
			still = true
		}
		w, h, spare := f.w, f.h, threads
		if f.ease.size < 1 {
			w, h = max(1, int(f.ease.size*float64(w)+0.5)), max(1, int(f.ease.size*float64(h)+0.5))
		}
		if f.ease.alone {
			spare = max(1, threads-1)
		}
		begun := time.Now()
		var pic *shade.Picture
		switch {
		case still:
			pic = r.RenderStill(f.models, f.camera, f.theme, f.w, f.h, threads)
		case cost > standInAbove && standIns(f, h):
			pic = r.RenderMoving(f.models, f.camera, f.theme, w, h, f.ease.cells, spare)
		case cost > coarseAbove:
			pic = r.Render(f.models, f.camera, f.theme, min(w, max(1, f.w/2)), min(h, max(1, f.h/2)), spare)
		default:
			pic = r.Render(f.models, f.camera, f.theme, w, h, spare)
			if f.ease == eases[0] {
				cost = time.Since(begun)
			}
		}
		if still {
			// A quarter of the careful picture's time is about a plain one's.
			cost = time.Since(begun) / 4
		}
		if f.overlay != nil {
			f.overlay(pic.Image, pic, still)
		}
		done := finished{f.asked, time.Since(begun), still}
		select {
		case <-p.taken:
		case <-p.stop:
			return
		}
		p.ready <- handover{pic, done}
		// Never more than one is posted: while ticks take longer than they should, as many are taken up as there are ticks, and a
		// queue would grow.
		if !p.posted.Swap(true) {
			p.worker.post(func() {
				p.posted.Store(false)
				p.collect()
			})
		}
		rest = nil
		if !still {
			rest = time.After(restAfter)
		}
	}
}
