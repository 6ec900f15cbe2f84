package bench

import (
	"time"

	"shutline/app"
)

// stint is when what is on the bench was worked out, and how long that took.
type stint struct {
	began time.Time
	took  time.Duration
}

// reading is the stint of parts that were read, which may not get onto the bench.
type reading struct {
	of *app.Parts
	stint
}

// timePaths is what laying seams is called in a run's record.
const timePaths = "paths"

// timedStages are the stages of a run by the names they have in its record, in the order the headless command runs them.
var timedStages = []string{Parts.String(), Place.String(), Surface.String(), timePaths, Trust.String(), Seams.String()}

// timed gives an outcome the times of the stages that have led to it, each of when it was worked on last: of seams that were
// measured one by one, of the last of them.
func (b *Bench) timed(o *app.Outcome) {
	o.Started, o.Times = time.Time{}, nil
	for _, name := range timedStages {
		s, known := b.stints[name]
		if !known || name == Surface.String() && o.Compared == nil || name == timePaths && len(o.Paths) == 0 {
			continue
		}
		o.Times = append(o.Times, app.StageTime{Stage: name, Took: s.took})
		if o.Started.IsZero() || s.began.Before(o.Started) {
			o.Started = s.began
		}
	}
}
