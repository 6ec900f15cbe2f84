package mesh

// Progress is told the share of a long piece of work that is done, 0 to 1. It
// may be called from any goroutine, is cheap, and may be nil.
type Progress func(share float64)

// Report calls p when there is one.
func (p Progress) Report(share float64) {
	if p != nil {
		p(share)
	}
}

// Part returns the progress of a piece of the work that runs from lo to hi of the whole.
func (p Progress) Part(lo, hi float64) Progress {
	if p == nil {
		return nil
	}
	return func(share float64) { p(lo + float64((hi-lo)*share)) }
}
