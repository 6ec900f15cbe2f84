package inspection

// SeamLimits are what a seam as a whole is held to, besides its stations' tolerances.
type SeamLimits struct {
	Seam      string
	TaperOver float64 // mm: the taper's tolerance holds for every stretch of this length; 0: for the whole seam only
	Parallel  float64 // mm that the largest gap may be over the smallest; 0: not judged
	Step      float64 // mm that gap and flush may differ between neighbouring stations; 0: not judged
}

// limits reads parallel, step and taper.over.
func (r *reader) limits(t table, seam string) {
	l := SeamLimits{Seam: seam, Parallel: t.positive("parallel", 0, mostOff, "mm"), Step: t.positive("step", 0, mostOff, "mm")}
	if m, ok := t.m["taper"].(map[string]any); ok {
		taper := table{d: r.document, path: joined(t.path, "taper"), m: m}
		l.TaperOver = taper.positive("over", 0, farthest, "mm")
		if taper.has("over") && !taper.has("tolerance") {
			r.fail(joined(taper.path, "over"), "needs the tolerance that every stretch of %v mm must keep, in mm per 100 mm", l.TaperOver)
		}
	}
	if l != (SeamLimits{Seam: seam}) {
		r.held = append(r.held, l)
	}
}

// limitsOf returns what a seam is held to.
func (i *Inspection) limitsOf(seam string) SeamLimits {
	for _, l := range i.Limits {
		if l.Seam == seam {
			return l
		}
	}
	return SeamLimits{Seam: seam}
}

func (e *encoder) limits(l SeamLimits) {
	if l.Parallel > 0 {
		e.line("parallel = %s", number(l.Parallel))
	}
	if l.Step > 0 {
		e.line("step = %s", number(l.Step))
	}
}
