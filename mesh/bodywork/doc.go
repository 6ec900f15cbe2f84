// Package bodywork makes vehicle bodywork by formula: the left side of a
// made-up parcel van as a fine reference mesh and as a noisy scan of it, and
// what every measurement of them must find, computed from the formula and
// never from a mesh.
//
// Lengths are mm, angles radians. Vehicle axes: X rearward, Y to the right, Z
// up, so the outside of the left side looks along -Y. Side A of a seam is the
// panel nearer the front. Everything is repeatable from a seed, byte for byte
// on any processor: only sums, products kept from fusing, divisions and square
// roots are used, and sines are computed here. A station's angle alone goes
// through the library's arc tangent, whose last bit may differ.
package bodywork
