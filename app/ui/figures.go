package ui

import (
	"regexp"
	"strings"
	"sync"

	"fyne.io/fyne/v2/lang"

	"shutline/deviation/gapflush"
)

// Figures and the words on charts follow the user's language in the window alone: files are read by programs and by
// strangers, and stay as they are.

// decimalPoint is what stands before the decimals in the user's language.
var decimalPoint = sync.OnceValue(func() string { return tr("number.point", ".") })

var decimals = regexp.MustCompile(`(\d)\.(\d)`)

// figures writes the numbers of a text of the window as the user's language does.
func figures(s string) string {
	if decimalPoint() == "." || !strings.Contains(s, ".") {
		return s
	}
	return decimals.ReplaceAllString(s, "${1}"+decimalPoint()+"${2}")
}

// besideFigures are the words that may stand beside numbers in what is nothing but figures.
var besideFigures = regexp.MustCompile(`^[\d\s.,;:<+\-−±×/%°²³()\x{202f}\x{00a0}]*$|^(mm|cm²?|m²?|µm|ppm|mrad|k?B|MB|bytes|x|y|z|k|=|to|per)$`)

// onlyFigures reports whether a text is made of numbers and units: not the name of a file or of a seam.
func onlyFigures(s string) bool {
	for word := range strings.FieldsSeq(s) {
		if !besideFigures.MatchString(strings.Trim(word, ",;:()")) && !besideFigures.MatchString(word) {
			return false
		}
	}
	return strings.ContainsAny(s, "0123456789")
}

// localised returns the fields of a sentence with their figures as the user's language writes them.
func localised(data map[string]any) map[string]any {
	if decimalPoint() == "." {
		return data
	}
	out := make(map[string]any, len(data))
	for k, v := range data {
		if s, ok := v.(string); ok {
			switch {
			case s == "no value":
				v = tr("word.novalue", "no value")
			case onlyFigures(s):
				v = figures(s)
			case k == "Faults":
				v = faultsSay(s)
			default:
				v = told(s)
			}
		}
		out[k] = v
	}
	return out
}

// faultTexts holds the names of a mesh's lesser faults by the English of them, with # for the number.
var faultTexts = sync.OnceValue(func() map[string]string {
	list := map[string]string{}
	say := func(key, text string) { list[text] = lang.X(key, text) }
	if inEnglish() {
		say = func(string, string) {} // as it is; looking them all up takes milliseconds
	}
	say("fault.same", "# face lies on another with the same corners")
	say("fault.sames", "# faces lie on others with the same corners")
	say("fault.branch", "# edge has more than two faces")
	say("fault.branches", "# edges have more than two faces")
	say("fault.pinch", "# vertex joins surfaces that touch in one point only")
	say("fault.pinches", "# vertices join surfaces that touch in one point only")
	say("fault.loose", "# vertex belongs to no face")
	say("fault.looses", "# vertices belong to no face")
	say("fault.hole", "# small hole or crack")
	say("fault.holes", "# small holes or cracks")
	say("fault.speck", "# loose speck of under # % of the largest piece's area")
	say("fault.specks", "# loose specks of under # % of the largest piece's area each")
	return list
})

// faultsSay says a list of faults in the user's language.
func faultsSay(s string) string {
	list := strings.Split(s, "; ")
	for k, fault := range list {
		if text, known := faultTexts()[chartNumber.ReplaceAllString(fault, "#")]; known {
			list[k] = filled(text, chartNumber.FindAllString(fault, -1))
		}
	}
	return strings.Join(list, "; ")
}

// filled puts numbers into a text with # for each, in their order.
func filled(text string, numbers []string) string {
	for _, n := range numbers {
		text = strings.Replace(text, "#", figures(n), 1)
	}
	return text
}

// chartNumber is a number on a chart, and apart what stands between two statements there.
var (
	chartNumber = regexp.MustCompile(`(?:< )?[+−]?\d+(?:[\x{202f}\x{00a0}]\d{3})*(?:\.\d+)?`)
	apart       = regexp.MustCompile(`[;,:]?\s\s+`)
)

// chartReason is why so many stations of a chart have no number.
var chartReason = regexp.MustCompile(`^(\d+) of (\d+) stations: (.+)$`)

// chartSide is the name of a seam's side with what is said of it.
var chartSide = regexp.MustCompile(`^(.*?)(, master)?(, toward ([+−]?[xyz]))?$`)

// inEnglish reports whether charts speak English.
func inEnglish() bool { return decimalPoint() == "." && tr("chart.gap", "gap") == "gap" }

// chartTexts holds what charts say by the English of it, with # for every number, and of a station's state by its name in tables.
var chartTexts = sync.OnceValue(func() map[string]string {
	list := map[string]string{}
	say := func(key, text string) { list[text] = lang.X(key, text) }
	if inEnglish() {
		say = func(string, string) {} // as it is; looking them all up takes milliseconds
	}
	say("chart.deviation", "deviation, mm")
	say("chart.change", "change, mm")
	say("chart.along", "along, mm")
	say("chart.gap", "gap")
	say("chart.flush", "flush")
	say("chart.gap.u", "gap # ± #")
	say("chart.flush.u", "flush # ± #")
	say("chart.gap.mm", "gap # ± # mm")
	say("chart.flush.mm", "flush # ± # mm")
	say("chart.gap.bare", "gap # mm")
	say("chart.flush.bare", "flush # mm")
	say("chart.gap.none", "gap no value")
	say("chart.flush.none", "flush no value")
	say("chart.drift.shape", "drift shape")
	say("chart.residuals.short", "# % lower, # % prouder, # % beside it")
	say("chart.nonumber", "no value")
	say("chart.station", "station #")
	say("chart.station.at", "station # at # mm")
	say("chart.stations", "# of # stations measured")
	say("chart.gap.span", "gap # to # mm")
	say("chart.flush.span", "flush # to # mm")
	say("chart.taper", "taper # mm per # mm")
	say("chart.nominal.none", "no nominal, not judged")
	say("chart.nominal.missing", "no nominal")
	say("chart.seam.empty", "no stations on this seam")
	say("chart.conforms", "conforms")
	say("chart.undecided", "undecided")
	say("chart.not", "does not conform")
	say("chart.gap.conforms", "gap conforms")
	say("chart.gap.undecided", "gap undecided")
	say("chart.gap.not", "gap does not conform")
	say("chart.flush.conforms", "flush conforms")
	say("chart.flush.undecided", "flush undecided")
	say("chart.flush.not", "flush does not conform")
	say("chart.judged.gap", "gap conforms, flush not judged")
	say("chart.judged.flush", "flush conforms, gap not judged")
	say("chart.judged.taper", "taper conforms, gap and flush not judged")
	say("chart.judged.parallel", "parallelism conforms, gap and flush not judged")
	say("chart.judged.checks", "# checks of the whole seam: conforms, gap and flush not judged")
	say("chart.taper.conforms", "taper conforms")
	say("chart.parallel.conforms", "parallelism conforms")
	say("chart.checks.conforms", "# checks of the whole seam: conforms")
	say("chart.taper.undecided", "taper undecided")
	say("chart.taper.not", "taper does not conform")
	say("chart.over.undecided", "taper over # mm undecided")
	say("chart.over.not", "taper over # mm does not conform")
	say("chart.parallel.undecided", "parallelism undecided")
	say("chart.parallel.not", "parallelism does not conform")
	say("chart.step.gap.undecided", "step of gap undecided")
	say("chart.step.gap.not", "step of gap does not conform")
	say("chart.step.flush.undecided", "step of flush undecided")
	say("chart.step.flush.not", "step of flush does not conform")
	say("chart.checks.undecided", "# checks of the whole seam: undecided")
	say("chart.checks.not", "# checks of the whole seam: does not conform")
	say("chart.without", "station without a number")
	say("chart.area.in", "# % of the area in tolerance")
	say("chart.points.in", "# % of the points in tolerance")
	say("chart.area.little", "# % of the area changed by less than matters")
	say("chart.points.little", "# % of the points changed by less than matters")
	say("chart.band", "(# to # mm)")
	say("chart.root", "heights on a root scale")
	say("chart.below", "# % below # mm")
	say("chart.above", "# % above # mm")
	say("chart.below.little", "under # % below # mm")
	say("chart.above.little", "under # % above # mm")
	say("chart.empty", "no point with a number")
	say("chart.residuals", "What is left after placing")
	say("chart.residuals.axis", "from the reference, mm")
	say("chart.residuals.rest", "# % lower, # % prouder than shown, # % with nothing of the reference to lie on")
	say("chart.residuals.empty", "no point near the reference")
	say("chart.errors", "Error against length, mm")
	say("chart.errors.axis", "over a length of, mm")
	say("chart.errors.lines", "between the lines: what a length read in this scan may be off by (k = #)")
	say("chart.errors.empty", "nothing tells how errors grow with length")
	say("chart.reason.more", "and # more reasons")
	say("chart.key.seen", "nose seen")
	say("chart.key.carried", "nose carried on")
	say("chart.key.edge", "edge carried on")
	say("chart.key.zone", "face zone")
	say("chart.a", "A, master")
	say("chart.b", "B, master")
	for state, text := range map[gapflush.State]string{
		gapflush.NoseUnseen:  tr("chart.state.nose-unseen", "edge not seen"),
		gapflush.SideMissing: tr("chart.state.side-missing", "panel missing"),
		gapflush.Bridged:     tr("chart.state.bridged", "gap scanned over"),
		gapflush.TwoSkins:    tr("chart.state.two-skins", "two skins"),
		gapflush.NoFace:      tr("chart.state.no-face", "no face"),
		gapflush.TooCoarse:   tr("chart.state.too-coarse", "too coarse"),
		gapflush.ThirdPanel:  tr("chart.state.third-panel", "third panel"),
		gapflush.NotParallel: tr("chart.state.not-parallel", "not parallel"),
		gapflush.OffPath:     tr("chart.state.off-path", "off the seam"),
	} {
		list[string(state)] = text
	}
	return list
})

// chartSaid remembers what charts said: they are drawn again with every step along a seam. It is used by every painter.
var chartSaid sync.Map

// chartSay says a text of a chart in the user's language. What it does not know, the names of seams above all, stays as it is.
func chartSay(s string) string {
	if known, ok := chartSaid.Load(s); ok {
		return known.(string)
	}
	out, from := "", 0
	for _, at := range append(apart.FindAllStringIndex(s, -1), []int{len(s), len(s)}) {
		out += chartPart(s[from:at[0]]) + s[at[0]:at[1]]
		from = at[1]
	}
	chartSaid.Store(s, out)
	return out
}

func chartPart(s string) string {
	numbers := chartNumber.FindAllString(s, -1)
	text, known := chartTexts()[chartNumber.ReplaceAllString(s, "#")]
	switch {
	case known:
		return filled(text, numbers)
	case onlyFigures(s):
		return figures(s)
	}
	if why, ok := strings.CutPrefix(s, "no value, because "); ok {
		return trf("chart.novalue", "no value, because {{.Why}}", map[string]any{"Why": why})
	}
	if m := chartReason.FindStringSubmatch(s); m != nil {
		return trf("chart.reason", "{{.N}} of {{.All}} stations: {{.Why}}", map[string]any{"N": m[1], "All": m[2], "Why": told(m[3])})
	}
	if strings.HasSuffix(s, ".") && strings.Count(s, " ") >= fewWords {
		return told(s) // why a station has no number
	}
	if m := chartSide.FindStringSubmatch(s); m != nil && m[2]+m[3] != "" {
		if m[2] != "" {
			m[2] = tr("chart.master", ", master")
		}
		if m[3] != "" {
			m[3] = trf("chart.toward", ", toward {{.Axis}}", map[string]any{"Axis": m[4]})
		}
		return m[1] + m[2] + m[3]
	}
	return s
}
