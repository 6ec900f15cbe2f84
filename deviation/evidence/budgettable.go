package evidence

import (
	"strconv"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

const budgetHeader = "seam,station,quantity,contribution,u_mm,U_mm,k"

// budgetTable lists what every station's uncertainties are made of, as the GUM asks
// for: each contribution as a standard uncertainty, then their root sum of squares
// with the expanded one beside it. A contribution of nothing is left out.
func budgetTable(r *Record) []byte {
	t := newTable(budgetHeader)
	for _, seam := range r.Seams {
		name := guarded(seam.Seam.Name)
		for i := range seam.Stations {
			s := &seam.Stations[i]
			index := strconv.Itoa(s.Index)
			list := func(quantity string, v verdict.Value, lines []gapflush.BudgetLine) {
				if !v.OK {
					return
				}
				for _, l := range lines {
					if l.U != 0 {
						t.row(name, index, quantity, guarded(l.Source), num{l.U, budgetDecimals, true}.String(), "", "1")
					}
				}
				t.row(name, index, quantity, "sum", num{v.U / 2, budgetDecimals, true}.String(), valU(v).String(), "2")
			}
			list("gap", s.Gap, s.GapBudget)
			list("flush", s.Flush, s.FlushBudget)
		}
	}
	return t.bytes()
}

// budgetDecimals leaves of small contributions enough to add up.
const budgetDecimals = 9
