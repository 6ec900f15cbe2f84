// Package seamfind finds the shut lines of a body: places where two panels
// face each other across a gap, or where a groove runs through one continuous
// surface, as scanners make of narrow gaps. It also centres a given path in its gap.
//
// Lengths are mm. Faces must be wound so that their outside is the body's. The
// body is looked at from up to 26 directions as a picture of heights; in the rows and
// columns of each, a place is a gap where the surface falls away below the skins
// of both sides, carried on, and comes back within a few mm. Steps, bends,
// styling lines and the hems of holes, lamps and wheel arches have a skin on one side only,
// or no fall, and are none. The places are gathered to lines, and each line is laid
// into the middle between the noses that cuts across it show.
//
// Nothing here measures a gap: widths are estimates, for choosing tolerances and
// for telling shut lines apart. deviation/gapflush measures at the stations cut on the paths.
//
// The cost is a picture of the body from each direction: about a second for a
// side of 300,000 triangles on two processors.
package seamfind
