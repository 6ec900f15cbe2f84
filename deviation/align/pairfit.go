package align

// RegionFit is how a best fit on regions came about.
type RegionFit struct{}

// PairFit is how a placement by point pairs came about.
type PairFit struct{}
