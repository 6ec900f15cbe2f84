package deviation

import "shutline/deviation/verdict"

// Figures are the statistics of the measured points. Without any measured point OK is false.
type Figures struct {
	OK                      bool
	Mean, SD, RMS, Min, Max float64 // mm; SD with n - 1
	P025, P50, P975         float64 // mm, percentiles
	ShareInTolerance        float64 // 0 to 1
}

// Summary is what surface-summary.csv holds.
type Summary struct {
	Count                    [4]int // by State
	AreaWeighted, Unweighted Figures
	ReferenceCovered         float64
}

// Summarise draws the figures from a field; areas are the scan's vertex areas in mm².
func Summarise(f *Field, areas []float64, tolerance verdict.Tolerance) Summary { return Summary{} }
