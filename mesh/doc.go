// Package mesh holds the indexed triangle mesh all stages work on, its welding
// and its topology. Coordinates are millimetres, float64; faces wind
// counter-clockwise seen from outside.
package mesh
