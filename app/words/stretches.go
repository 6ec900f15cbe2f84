package words

import (
	"math"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

func fails(s *gapflush.Station) bool {
	return s.GapVerdict == verdict.DoesNotConform || s.FlushVerdict == verdict.DoesNotConform
}

// undecided counts the stations with a gap that nothing is surely wrong with, and that are not surely right either.
func undecided(r *gapflush.Result) (n int) {
	for i := range r.Stations {
		s := &r.Stations[i]
		if s.Gap.OK && !fails(s) && (s.GapVerdict == verdict.Undecided || s.FlushVerdict == verdict.Undecided) {
			n++
		}
	}
	return n
}

// figure picks gap or flush of a station, with what it is to be brought to, and its verdict.
type figure func(*gapflush.Station) (x, nominal verdict.Value, v verdict.Verdict)

func gapOf(r *gapflush.Result) figure {
	aim := aimOf(r.Seam.Gap)
	return func(s *gapflush.Station) (x, nominal verdict.Value, v verdict.Verdict) {
		return s.Gap, shifted(s.GapNominal, aim), s.GapVerdict
	}
}

func flushOf(r *gapflush.Result) figure {
	aim := aimOf(r.Seam.Flush)
	return func(s *gapflush.Station) (x, nominal verdict.Value, v verdict.Verdict) {
		return s.Flush, shifted(s.FlushNominal, aim), s.FlushVerdict
	}
}

// aimOf is how far from its nominal a figure is to be brought, mm: nowhere, unless the tolerance does not hold the
// nominal; then to the tolerance's middle.
func aimOf(t gapflush.Target) float64 {
	if lo, hi := t.Tolerance.Lo, t.Tolerance.Hi; t.Judged && (lo > 0 || hi < 0) {
		return (lo + hi) / 2
	}
	return 0
}

func shifted(v verdict.Value, by float64) verdict.Value {
	v.V += by
	return v
}

// out returns +1 or -1 when a station is above or below its tolerance, 0 when
// not, and by how much it is off its nominal, mm.
func (f figure) out(s *gapflush.Station) (side int, off float64) {
	x, nominal, v := f(s)
	if v != verdict.DoesNotConform || !x.OK || !nominal.OK {
		return 0, 0
	}
	if off = x.V - nominal.V; off > 0 {
		return 1, off
	}
	return -1, off
}

func (f figure) known(s *gapflush.Station) bool {
	x, _, _ := f(s)
	return x.OK
}

// stretch is a run of stations that are out on the same side. Stations without
// a number may stand between them and at their ends: they part no run, as nobody
// knows what they would say, and they are named.
type stretch struct {
	out     []int // indices of the stations that are out, rising
	between []int // without a number, between those
	beside  []int // without a number, next to the first or the last
	worst   int
	side    int // +1 above the tolerance, -1 below
}

func stretches(r *gapflush.Result, f figure) []stretch {
	var list []stretch
	var unknown []int // since the last station with a number
	worst, open := 0.0, false
	for i := range r.Stations {
		s := &r.Stations[i]
		if !f.known(s) {
			unknown = append(unknown, i)
			continue
		}
		side, off := f.out(s)
		n := len(list) - 1
		switch {
		case side != 0 && open && list[n].side == side:
			list[n].out, list[n].between = append(list[n].out, i), append(list[n].between, unknown...)
			if math.Abs(off) > worst {
				list[n].worst, worst = i, math.Abs(off)
			}
		default:
			if open {
				list[n].beside = append(list[n].beside, unknown...)
			}
			if side != 0 {
				list = append(list, stretch{out: []int{i}, beside: append([]int(nil), unknown...), worst: i, side: side})
				worst = math.Abs(off)
			}
			open = side != 0
		}
		unknown = nil
	}
	if open {
		list[len(list)-1].beside = append(list[len(list)-1].beside, unknown...)
	}
	return list
}

// span is the length a stretch stands for: half a step beyond its stations on either side.
func (w Writer) span(s stretch, r *gapflush.Result) fields {
	half := float64(r.Seam.Every / 2)
	from, to := max(0, r.Stations[s.out[0]].Along-half), r.Stations[s.out[len(s.out)-1]].Along+half
	return fields{"From": tenths(from), "To": tenths(to), "Stations": w.stations(r, s.out)}
}

// unknown names the stations of a stretch that have no number, "" for none.
func (w Writer) unknown(s stretch, r *gapflush.Result) string {
	said := ""
	if len(s.between) > 0 {
		said += " " + w.say("seam.between", "In between there is no number at {{.Stations}}.", fields{"Stations": w.stations(r, s.between)})
	}
	if len(s.beside) > 0 {
		said += " " + w.say("seam.beside", "Next to it there is no number at {{.Stations}}, so it may reach further.", fields{"Stations": w.stations(r, s.beside)})
	}
	return said
}

// shownZero is the least flush, mm, that is not written as 0.00.
const shownZero = 0.005

func (w Writer) flushStretch(c *Card, k int, r *gapflush.Result, s stretch, other, master string) {
	st := &r.Stations[s.worst]
	data := w.span(s, r)
	data["Other"], data["Master"] = capitalWord(other), master
	x := st.Flush
	_, wanted, _ := flushOf(r)(st)
	data["Nominal"] = Signed(wanted.V)
	data["MM"] = WithU(verdict.Value{V: math.Abs(x.V), U: x.U, OK: x.OK}, "mm")
	said := w.say("seam.proud", "{{.Other}} stands up to {{.MM}} proud of {{.Master}} at {{.Stations}} ({{.From}} to {{.To}} mm along the seam; wanted {{.Nominal}}).", data)
	// Against a nominal that is not zero, what counts is how far it is off that, and which way.
	off := verdict.Value{V: math.Abs(x.V - wanted.V), U: math.Sqrt(float64(x.U*x.U) + float64(wanted.U*wanted.U)), OK: x.OK}
	data["Off"], data["Is"] = WithU(off, "mm"), WithU(x, "mm")
	switch {
	case math.Abs(wanted.V) >= shownZero && s.side > 0:
		said = w.say("seam.proud.nominal", "{{.Other}} stands up to {{.Off}} too proud of {{.Master}} at {{.Stations}} ({{.From}} to {{.To}} mm along the seam; flush {{.Is}}, wanted {{.Nominal}}).", data)
	case math.Abs(wanted.V) >= shownZero:
		said = w.say("seam.low.nominal", "{{.Other}} sits up to {{.Off}} too low beside {{.Master}} at {{.Stations}} ({{.From}} to {{.To}} mm along the seam; flush {{.Is}}, wanted {{.Nominal}}).", data)
	case x.V < 0:
		said = w.say("seam.low", "{{.Other}} sits up to {{.MM}} below {{.Master}} at {{.Stations}} ({{.From}} to {{.To}} mm along the seam; wanted {{.Nominal}}).", data)
	}
	c.at(said+w.unknown(s, r), Place{k, s.worst})
}

func (w Writer) gapStretch(c *Card, k int, r *gapflush.Result, s stretch) {
	st := &r.Stations[s.worst]
	data := w.span(s, r)
	_, wanted, _ := gapOf(r)(st)
	data["MM"], data["Nominal"] = WithU(st.Gap, "mm"), MM(wanted.V)
	said := w.say("seam.wide", "The gap is too wide at {{.Stations}} ({{.From}} to {{.To}} mm along the seam): up to {{.MM}} where {{.Nominal}} is wanted.", data)
	if s.side < 0 {
		said = w.say("seam.narrow", "The gap is too narrow at {{.Stations}} ({{.From}} to {{.To}} mm along the seam): down to {{.MM}} where {{.Nominal}} is wanted.", data)
	}
	c.at(said+w.unknown(s, r), Place{k, s.worst})
}

// stations names stations by their numbers, given as rising indices: "station 4", "stations 1 to 8, 10 and 32".
func (w Writer) stations(r *gapflush.Result, at []int) string {
	var parts []string
	for i := 0; i < len(at); {
		j := i
		for j+1 < len(at) && at[j+1] == at[j]+1 {
			j++
		}
		a, b := Count(r.Stations[at[i]].Index), Count(r.Stations[at[j]].Index)
		switch {
		case j == i:
			parts = append(parts, a)
		case j == i+1:
			parts = append(parts, a, b)
		default:
			parts = append(parts, w.say("list.run", "{{.A}} to {{.B}}", fields{"A": a, "B": b}))
		}
		i = j + 1
	}
	if len(at) == 1 {
		return w.say("list.station", "station {{.K}}", fields{"K": parts[0]})
	}
	return w.say("list.stations", "stations {{.K}}", fields{"K": w.list(parts)})
}

// list joins words: "a, b and c".
func (w Writer) list(parts []string) string {
	text := ""
	for i, p := range parts {
		switch {
		case i == 0:
			text = p
		case i == len(parts)-1:
			text = w.say("list.last", "{{.A}} and {{.B}}", fields{"A": text, "B": p})
		default:
			text = w.say("list.next", "{{.A}}, {{.B}}", fields{"A": text, "B": p})
		}
	}
	return text
}
