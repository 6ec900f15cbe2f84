package evidence

import (
	"math"

	"shutline/deviation/verdict"
)

// Check is what a seam as a whole is held to besides its stations' tolerances.
type Check struct {
	Seam     string
	Kind     string // "taper over 300 mm", "parallelism", "step of gap", "step of flush"
	Unit     string // "mm" or "mm per 100 mm"
	Value    verdict.Value
	Limit    verdict.Tolerance // an infinite limit is none
	From, To float64           // mm along the path: the stretch of the value
	Over     float64           // mm, the length of stretch that was asked for; 0 where none was
	Verdict  verdict.Verdict   // of that value; undecided without one
	Why      string            // when there is no number
}

const checkHeader = "seam,check,unit,value,U,limit_lo,limit_hi,from_mm,to_mm,verdict,k,why"

func limit(v float64) num { return num{v, mmDecimals, !math.IsInf(v, 0)} }

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
