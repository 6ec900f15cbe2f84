package evidence

import (
	"math"
	"strings"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Check is what a seam as a whole is held to besides its stations' tolerances.
type Check = gapflush.Check

const checkHeader = "seam,check,unit,value,U,limit_lo,limit_hi,from_mm,to_mm,verdict,k,why"

func limit(v float64) num { return num{v, mmDecimals, !math.IsInf(v, 0)} }

// partResult is one of what a seam's verdict is the worst of; its verdict is null where it was not judged.
type partResult struct {
	What    string  `json:"what"`
	Verdict *string `json:"verdict"`
}

func partsOf(r *gapflush.Result) (out []partResult) {
	for _, p := range r.Parts() {
		out = append(out, partResult{p.What, present(p.Verdict)})
	}
	return out
}

// partsText is the same for one cell of a table.
func partsText(r *gapflush.Result) string {
	var text []string
	for _, p := range r.Parts() {
		word := p.Verdict.String()
		if p.Verdict == verdict.NotJudged {
			word = "not judged"
		}
		text = append(text, p.What+": "+word)
	}
	return strings.Join(text, "; ")
}

func checkTable(r *Record) []byte {
	t := newTable(checkHeader)
	for _, c := range r.Checks {
		from, to := num{c.From, mmDecimals, c.Value.OK}, num{c.To, mmDecimals, c.Value.OK}
		t.row(guarded(c.Seam), c.Kind, c.Unit, val(c.Value).String(), valU(c.Value).String(), limit(c.Limit.Lo).String(), limit(c.Limit.Hi).String(),
			from.String(), to.String(), c.Verdict.String(), "2", guarded(c.Why))
	}
	return t.bytes()
}

type checkResult struct {
	Seam    string  `json:"seam"`
	Check   string  `json:"check"`
	Unit    string  `json:"unit"`
	Value   num     `json:"value"`
	U       num     `json:"U"`
	Limit   [2]num  `json:"limit"`
	Along   [2]num  `json:"along_mm"`
	Verdict *string `json:"verdict"`
	Why     string  `json:"why,omitempty"`
}

func checkOf(c Check) checkResult {
	return checkResult{
		Seam: c.Seam, Check: c.Kind, Unit: c.Unit, Value: val(c.Value), U: valU(c.Value), Limit: [2]num{limit(c.Limit.Lo), limit(c.Limit.Hi)},
		Along: [2]num{{c.From, mmDecimals, c.Value.OK}, {c.To, mmDecimals, c.Value.OK}}, Verdict: present(c.Verdict), Why: c.Why,
	}
}
