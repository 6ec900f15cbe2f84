package ui

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// budgetLeast is what a part must contribute to be listed by itself, mm: what
// would be written as 0.000. The others are taken together.
const budgetLeast = 0.0005

// budgets says on demand where the uncertainties of a station come from.
func (c *card) budgets(st *gapflush.Station) fyne.CanvasObject {
	gap, flush := st.Gap.OK && len(st.GapBudget) > 0, st.Flush.OK && len(st.FlushBudget) > 0
	if !gap && !flush {
		return nil
	}
	fold, item := newFold(tr("budget.title", "Where U comes from"), c.budgetOpen, func() fyne.CanvasObject {
		list := container.NewVBox()
		if gap {
			list.Add(c.budget(tr("budget.gap", "GAP"), st.GapBudget, st.Gap.U))
		}
		if flush {
			list.Add(c.budget(tr("budget.flush", "FLUSH"), st.FlushBudget, st.Flush.U))
		}
		return list
	})
	c.budgetFold = item
	return fold
}

// budget is a table of the parts of an uncertainty as standard uncertainties
// (k = 1), largest first, and of what they come to together (k = 2).
func (c *card) budget(name string, lines []gapflush.BudgetLine, expanded float64) fyne.CanvasObject {
	sorted := slices.Clone(lines)
	slices.SortStableFunc(sorted, func(a, b gapflush.BudgetLine) int { return cmp.Compare(b.U, a.U) })
	rows := [][]string{{name, tr("budget.k1", "k = 1, mm")}}
	rest, others := 0.0, 0
	for _, l := range sorted {
		if l.U < budgetLeast {
			rest, others = rest+l.U*l.U, others+1
			continue
		}
		rows = append(rows, []string{told(l.Source), thousandth(l.U)})
	}
	if others > 0 && math.Sqrt(rest) >= budgetLeast {
		rows = append(rows, []string{trf("budget.others", "{{.N}} smaller ones", map[string]any{"N": strconv.Itoa(others)}), thousandth(math.Sqrt(rest))})
	}
	rows = append(rows, []string{tr("budget.sum", "U, k = 2: twice the root of their squares"), "± " + figures(verdict.Uncertainty(expanded, max(3, verdict.Decimals(expanded))))})
	p := currentPalette()
	table := container.NewVBox()
	for i, row := range rows {
		left, right := text(row[0], sizeCaption, p.Faint, i == 0), text(row[1], sizeCaption, p.Ink, i == len(rows)-1)
		if i == len(rows)-1 {
			left.Color = p.Ink
		}
		if i == 0 {
			right.Color, right.TextStyle.Bold = p.Faint, true
		}
		table.Add(container.NewBorder(nil, nil, nil, right, left))
	}
	return padded(0, 6, 7, 7, table)
}

func thousandth(mm float64) string { return figures(strconv.FormatFloat(mm, 'f', 3, 64)) }
