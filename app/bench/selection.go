package bench

import "shutline/deviation/gapflush"

// Select marks a seam and one of its stations, both counted from 0; station -1
// marks the seam alone. Numbers that do not exist are moved to the nearest that do.
func (b *Bench) Select(seam, station int) {
	if len(b.seams) == 0 {
		b.seam, b.station = 0, -1
		return
	}
	b.seam = max(0, min(seam, len(b.seams)-1))
	b.station = -1
	if r := b.seams[b.seam]; r != nil {
		b.station = max(-1, min(station, len(r.Stations)-1))
	}
	b.Listen(SelectionChanged)
}

// Step walks along the seam by n stations, staying on it.
func (b *Bench) Step(n int) {
	if r := b.Result(); r != nil && len(r.Stations) > 0 {
		b.Select(b.seam, max(0, min(b.station+n, len(r.Stations)-1)))
	}
}

// StepSeam goes n seams on, round the end, and marks its worst station.
func (b *Bench) StepSeam(n int) {
	if count := len(b.seams); count > 0 {
		b.SelectSeam(((b.seam+n)%count + count) % count)
	}
}

// SelectSeam marks a seam and its worst station.
func (b *Bench) SelectSeam(seam int) {
	if seam >= 0 && seam < len(b.seams) {
		b.Select(seam, Worst(b.seams[seam]))
	}
}

// Selection returns the marked seam and station, counted from 0; station -1: none.
func (b *Bench) Selection() (seam, station int) { return b.seam, b.station }

// Result returns the marked seam's result, nil without one.
func (b *Bench) Result() *gapflush.Result {
	if b.seam < len(b.seams) {
		return b.seams[b.seam]
	}
	return nil
}

// Station returns the marked station, nil without one.
func (b *Bench) Station() *gapflush.Station {
	if r := b.Result(); r != nil && b.station >= 0 && b.station < len(r.Stations) {
		return &r.Stations[b.station]
	}
	return nil
}

// Worst returns the index of the station a user should look at first: the worst
// verdict, and among these the largest excess over its tolerance; -1 without stations.
func Worst(r *gapflush.Result) int {
	if r == nil {
		return -1
	}
	worst, at := -1.0, -1
	for i := range r.Stations {
		s := &r.Stations[i]
		badness := float64(1000*float64(max(s.GapVerdict, s.FlushVerdict))) +
			excess(s.Gap.V-s.GapNominal.V, s.Gap.OK && s.GapNominal.OK, r.Seam.Gap) +
			excess(s.Flush.V-s.FlushNominal.V, s.Flush.OK && s.FlushNominal.OK, r.Seam.Flush)
		if badness > worst {
			worst, at = badness, i
		}
	}
	return at
}

// excess returns how far out a value lies, in widths of its tolerance, bounded so that verdicts stay apart.
func excess(off float64, ok bool, t gapflush.Target) float64 {
	width := t.Tolerance.Hi - t.Tolerance.Lo
	if !ok || !t.Judged || !(width > 0) {
		return 0
	}
	return min(100, max(0, off-t.Tolerance.Hi, t.Tolerance.Lo-off)/width)
}
