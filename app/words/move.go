package words

import (
	"math"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// need returns how far the other panel would have to move at a station to bring
// a figure to its nominal, mm: positive is outward for a flush and away from the
// master for a gap. It is the nominal less what was measured, with both their U: a nominal that was measured elsewhere has one.
func (f figure) need(s *gapflush.Station) verdict.Value {
	x, nominal, _ := f(s)
	return verdict.Value{V: nominal.V - x.V, U: math.Sqrt(float64(x.U*x.U) + float64(nominal.U*nominal.U)), OK: x.OK && nominal.OK}
}

// moves are what both ends of the other panel would have to do along a seam.
type moves struct {
	first, last int // stations, indices
	a, b        verdict.Value
}

func movesOf(r *gapflush.Result, f figure) (moves, bool) {
	m := moves{first: -1}
	for i := range r.Stations {
		if need := f.need(&r.Stations[i]); need.OK {
			if m.first < 0 {
				m.first, m.a = i, need
			}
			m.last, m.b = i, need
		}
	}
	return m, m.first >= 0
}

// left returns the station that is farthest off its nominal, and by how much,
// when both ends were moved as said and all between them went along on a straight
// line; its U adds that of the ends. false where it is within its U at every
// station, or under a tenth of the tolerance.
func (m moves) left(r *gapflush.Result, f figure, t verdict.Tolerance) (at int, off verdict.Value, ok bool) {
	from, to := r.Stations[m.first].Along, r.Stations[m.last].Along
	if !(to > from) {
		return 0, off, false
	}
	for i := m.first + 1; i < m.last; i++ {
		need := f.need(&r.Stations[i])
		if !need.OK {
			continue
		}
		share := (r.Stations[i].Along - from) / (to - from)
		moved := float64(m.a.V*(1-share)) + float64(m.b.V*share)
		ua, ub := m.a.U*(1-share), m.b.U*share
		x := verdict.Value{V: moved - need.V, OK: true,
			U: math.Sqrt(float64(need.U*need.U) + float64(ua*ua) + float64(ub*ub))}
		if math.Abs(x.V) > x.U && math.Abs(x.V) > (t.Hi-t.Lo)/10 && math.Abs(x.V) > math.Abs(off.V) {
			at, off, ok = i, x, true
		}
	}
	return at, off, ok
}

// endNames says which ends of the seam the two stations are, with the coordinate
// that tells: "its lower end (station 1, z = 45)". Vehicle axes are taken as ISO
// 4130 has them: x rearward, y to the right, z up; a frame of its own has none.
func (w Writer) endNames(r *gapflush.Result, first, last int) [2]string {
	a, b := r.Stations[first].P, r.Stations[last].P
	d := b.Sub(a)
	// An end has a name when the seam runs within 45° of the axis the name is about.
	const mostly = 0.7071
	axis, names := "", [2]string{}
	low := func(v geom.Vec) float64 { return 0 }
	if size := d.Norm(); size > 0 && !w.OwnFrame {
		switch {
		case math.Abs(d.Z) > mostly*size:
			axis, low = "z", func(v geom.Vec) float64 { return v.Z }
			names = [2]string{w.say("end.lower", "its lower end", nil), w.say("end.upper", "its upper end", nil)}
		case math.Abs(d.X) > mostly*size:
			axis, low = "x", func(v geom.Vec) float64 { return v.X }
			names = [2]string{w.say("end.front", "its front end", nil), w.say("end.rear", "its rear end", nil)}
		case math.Abs(d.Y) > mostly*size:
			axis, low = "y", func(v geom.Vec) float64 { return v.Y }
			names = [2]string{w.say("end.left", "its left end", nil), w.say("end.right", "its right end", nil)}
		}
	}
	var out [2]string
	for k, i := range []int{first, last} {
		data := fields{"K": r.Stations[i].Index, "Axis": axis}
		if axis == "" {
			out[k] = w.say("end.station", "station {{.K}}", data)
			continue
		}
		at := low(r.Stations[i].P)
		data["Value"], data["Name"] = fixed(at, 0), names[0]
		if at > low(r.Stations[first+last-i].P) {
			data["Name"] = names[1]
		}
		out[k] = w.say("end.named", "{{.Name}} (station {{.K}}, {{.Axis}} = {{.Value}} mm)", data)
	}
	return out
}

// flushMove and gapMove word one end's move; one within its U is none.
func (w Writer) flushMove(need verdict.Value) string {
	data := fields{"MM": WithU(verdict.Value{V: math.Abs(need.V), U: need.U, OK: true}, "mm")}
	switch {
	case math.Abs(need.V) <= need.U:
		return w.say("move.stay", "stay as it is (off by {{.MM}})", data)
	case need.V > 0:
		return w.say("move.out", "come out by {{.MM}}", data)
	}
	return w.say("move.in", "go in by {{.MM}}", data)
}

func (w Writer) gapMove(need verdict.Value, master string) string {
	data := fields{"MM": WithU(verdict.Value{V: math.Abs(need.V), U: need.U, OK: true}, "mm"), "Master": master}
	switch {
	case math.Abs(need.V) <= need.U:
		return w.say("move.stay", "stay as it is (off by {{.MM}})", data)
	case need.V > 0:
		return w.say("move.away", "go away from {{.Master}} by {{.MM}}", data)
	}
	return w.say("move.toward", "come toward {{.Master}} by {{.MM}}", data)
}

// moveFlush says what the ends of the other panel must do for the flush wanted.
// These are measured distances to the nominal, not a way to repair.
func (w Writer) moveFlush(c *Card, r *gapflush.Result, other, master string) {
	m, ok := movesOf(r, flushOf(r))
	if !ok {
		return
	}
	ends := w.endNames(r, m.first, m.last)
	data := fields{"Other": other, "Master": master, "EndA": ends[0], "EndB": ends[1], "A": w.flushMove(m.a), "B": w.flushMove(m.b)}
	if m.first == m.last {
		data["K"] = r.Stations[m.first].Index
		c.next(w.say("move.flush.single", "To be as flush with {{.Master}} as wanted, {{.Other}} must, at station {{.K}}, {{.A}}.", data))
		return
	}
	said := w.say("move.flush", "To be as flush with {{.Master}} as wanted, {{.Other}} must at {{.EndA}} {{.A}} and at {{.EndB}} {{.B}}.", data)
	if m.a.V*m.b.V < 0 && math.Abs(m.a.V) > m.a.U && math.Abs(m.b.V) > m.b.U {
		said += " " + w.say("move.twisted", "One end is low and the other proud: {{.Other}} is turned or twisted, which one seam alone cannot tell; mounts alone may not take a twist out.", data)
	}
	if at, off, ok := m.left(r, flushOf(r), r.Seam.Flush.Tolerance); ok {
		data["K"], data["MM"] = r.Stations[at].Index, WithU(verdict.Value{V: math.Abs(off.V), U: off.U, OK: true}, "mm")
		if off.V > 0 {
			said += " " + w.say("move.left.proud", "It would then still stand {{.MM}} too proud at station {{.K}}: in between it is not straight.", data)
		} else {
			said += " " + w.say("move.left.low", "It would then still lie {{.MM}} too low at station {{.K}}: in between it is not straight.", data)
		}
	}
	c.next(said)
}

// moveGap says what the ends of the other panel must do for the gap wanted.
func (w Writer) moveGap(c *Card, r *gapflush.Result, other, master string) {
	m, ok := movesOf(r, gapOf(r))
	if !ok {
		return
	}
	ends := w.endNames(r, m.first, m.last)
	data := fields{"Other": other, "Master": master, "EndA": ends[0], "EndB": ends[1], "A": w.gapMove(m.a, master), "B": w.gapMove(m.b, master)}
	if m.first == m.last {
		data["K"] = r.Stations[m.first].Index
		c.next(w.say("move.gap.single", "For the gap wanted, {{.Other}} must, at station {{.K}}, {{.A}}.", data))
		return
	}
	said := w.say("move.gap", "For the gap wanted, {{.Other}} must at {{.EndA}} {{.A}} and at {{.EndB}} {{.B}}.", data)
	if at, off, ok := m.left(r, gapOf(r), r.Seam.Gap.Tolerance); ok {
		data["K"], data["MM"] = r.Stations[at].Index, WithU(verdict.Value{V: math.Abs(off.V), U: off.U, OK: true}, "mm")
		if off.V > 0 {
			said += " " + w.say("move.left.wide", "The gap would then still be {{.MM}} too wide at station {{.K}}: the two edges do not match in shape.", data)
		} else {
			said += " " + w.say("move.left.narrow", "The gap would then still be {{.MM}} too narrow at station {{.K}}: the two edges do not match in shape.", data)
		}
	}
	c.next(said)
}
