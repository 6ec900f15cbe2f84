package bvh

// WithoutVector runs f with the kernels' twins in plain Go, as on processors without
// AVX2. It is for measuring and testing, and must not run beside other use of the package.
func WithoutVector(f func()) {
	defer func(was bool) { vector = was }(vector)
	vector = false
	f()
}
