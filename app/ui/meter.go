package ui

import (
	"slices"
	"time"
)

// Rates say how quickly the view followed a drag.
type Rates struct {
	Painted     int     `json:"painted"`     // pictures that reached the screen during the drag
	Seconds     float64 `json:"seconds"`     // from the first of them to the last
	Follows     float64 `json:"follows"`     // ms, from an event to what it asked for being painted: the median
	FollowsMost float64 `json:"followsMost"` // of 95 %
	Drawn       float64 `json:"drawn"`       // ms that our renderer took for a picture: the median
	Still       float64 `json:"still"`       // ms, from letting go to the careful picture being painted
}

// meter follows the pictures of a drag to the screen, for the trace. It belongs to the drawing thread.
type meter struct {
	post    func(func())
	done    func(Rates)
	on      bool
	last    time.Time // the last event
	shown   finished  // what is painted next
	before  finished  // what was painted last, until it is on the screen
	posted  bool      // settle is posted
	painted []time.Time
	follows []float64
	drawn   []float64
}

// finished is a picture with when it was asked for and how long it took.
type finished struct {
	asked time.Time
	took  time.Duration
	still bool
}

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// event notes an event of a drag.
func (m *meter) event() {
	if m == nil {
		return
	}
	m.settle()
	m.on, m.last = true, time.Now()
}

// ended notes that the part was let go.
func (m *meter) ended() {
	if m != nil && m.on {
		m.last = time.Now()
	}
}

// handed notes that a picture was handed over and will be painted.
func (m *meter) handed(p finished) {
	if m != nil && m.on {
		m.shown = p
	}
}

// painting notes that the picture handed over is being painted: it is on the screen once the drawing thread takes up something else,
// an event or what is posted.
func (m *meter) painting() {
	if m == nil || !m.on || m.shown.asked.IsZero() {
		return
	}
	m.settle()
	m.before, m.shown = m.shown, finished{}
	if !m.posted {
		m.posted = true
		m.post(func() {
			m.posted = false
			m.settle()
		})
	}
}

// settle notes that what was painted is on the screen.
func (m *meter) settle() {
	p, now := m.before, time.Now()
	m.before = finished{}
	if !m.on || p.asked.IsZero() {
		return
	}
	if !p.still {
		m.painted = append(m.painted, now)
		m.follows = append(m.follows, ms(now.Sub(p.asked)))
		m.drawn = append(m.drawn, ms(p.took))
		return
	}
	if len(m.painted) > 1 {
		m.done(Rates{
			Painted: len(m.painted), Seconds: m.painted[len(m.painted)-1].Sub(m.painted[0]).Seconds(),
			Follows: share(m.follows, 0.5), FollowsMost: share(m.follows, 0.95), Drawn: share(m.drawn, 0.5), Still: ms(now.Sub(m.last)),
		})
	}
	*m = meter{post: m.post, done: m.done, posted: m.posted}
}

// share returns what the given share of the values does not exceed.
func share(v []float64, q float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[min(len(v)-1, int(q*float64(len(v))))]
}
