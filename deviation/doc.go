// Package deviation holds the signed distance of a placed scan from its
// reference, with the state of every point and the figures drawn from it.
//
// Sign: positive = the scan stands proud of the reference along its outward
// normal, negative = it lies low. Lengths are in mm. A point without a number
// has a state that says why; it is never 0 and never NaN.
package deviation
