package ui

import (
	"time"

	"shutline/deviation/shade"
)

// ease is how much is spared in a picture while the view moves.
type ease struct {
	cells float64 // the side up to which cells of stand-ins may be, in pixels
	size  float64 // of the picture's width and height; it is stretched
	alone bool    // one processor is left to the drawing thread
}

// eases begin with what is drawn where the drawing thread keeps up. A coarser part in all pixels looks better than all of the part in
// fewer, and what is left over on the drawing's side is what the toolkit's painting lacks where no graphics card does it.
var eases = [...]ease{
	{cells: shade.CoarsestCell, size: 1},
	{cells: 1.5 * shade.CoarsestCell, size: 1, alone: true},
	{cells: 1.5 * shade.CoarsestCell, size: 0.7, alone: true},
	{cells: 1.5 * shade.CoarsestCell, size: 0.5, alone: true},
}

// pace chooses among the eases by how quickly pictures follow one another. It spares more as soon as they fall short, and
// less only after a rest, so that nothing flickers. It belongs to the drawing thread.
type pace struct {
	level int
	last  time.Time                 // when a picture was taken, the one before it having been too
	sum   time.Duration             // of n of the times between them
	n     int                       // of those since the level was judged
	means [len(eases)]time.Duration // of the levels, when they were judged last; 0: not yet
	until [len(eases)]time.Time     // when a level that was left may be tried again
}

// A level is judged by every paceFrames pictures. Above shortOf from one to the next more is spared; it must make them quicker by a share of
// useful. Below slack, when nearly every tick of the toolkit's 60 a second has one, less is tried. A level that
// was left is not tried before again has passed.
const (
	paceFrames = 6
	shortOf    = 25 * time.Millisecond
	slack      = 18500 * time.Microsecond
	useful     = 0.08
	again      = time.Minute
	// promptly is within what an event follows a picture where the hand does not pause.
	promptly = 5 * time.Millisecond
)

// taken notes that a picture of a moving view was taken, and when it was asked for.
func (p *pace) taken(now, asked time.Time) {
	last := p.last
	p.last = now
	if last.IsZero() || asked.Sub(last) > promptly {
		return
	}
	p.sum += now.Sub(last)
	if p.n++; p.n < paceFrames {
		return
	}
	p.means[p.level] = p.sum / paceFrames
	p.sum, p.n = 0, 0
	if p.means[p.level] <= shortOf {
		return
	}
	for next := p.level + 1; next < len(eases); next++ {
		if now.After(p.until[next]) {
			p.leave(next, now)
			return
		}
	}
}

func (p *pace) leave(to int, now time.Time) {
	p.until[p.level] = now.Add(again)
	p.level = to
	p.means[to] = 0
}

// rested notes that the view came to rest.
func (p *pace) rested(now time.Time) {
	p.last, p.sum, p.n = time.Time{}, 0, 0
	mean := p.means[p.level]
	if mean == 0 || p.level == 0 {
		return
	}
	for less := range p.level {
		if before := p.means[less]; before > 0 && mean > time.Duration((1-useful)*float64(before)) {
			for p.level > less { // what is spared beyond is of no use
				p.until[p.level] = now.Add(again)
				p.level--
			}
			return
		}
	}
	if mean < slack && now.After(p.until[p.level-1]) {
		p.leave(p.level-1, now)
	}
}
