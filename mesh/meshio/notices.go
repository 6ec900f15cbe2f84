package meshio

import "fmt"

// Notices says in sentences what reading left out, joined or took for granted;
// none when the file was read just as it is.
func (l *Loaded) Notices() []string {
	var out []string
	say := func(n int, one, many string) {
		switch {
		case n == 1:
			out = append(out, "1 "+one)
		case n > 1:
			out = append(out, count(n)+" "+many)
		}
	}
	if l.UnitSource == "judged" {
		out = append(out, fmt.Sprintf("the unit was judged from the size to be %s: %s mm", l.Unit, SizeText(l.Mesh.Bounds().Size())))
	}
	say(l.DroppedNotFinite, "face dropped: a corner is not finite", "faces dropped: a corner is not finite")
	say(l.DroppedNoArea, "face dropped: it has no area", "faces dropped: they have no area")
	say(l.PolygonsTooSmall, "face left out: it has fewer than three corners", "faces left out: they have fewer than three corners")
	say(l.PolygonsCut, "polygon cut into triangles", "polygons cut into triangles")
	say(l.PointsNotFinite, "vertex left out: it is not finite", "vertices left out: they are not finite")
	say(l.VerticesJoined, "vertex joined with an equal one", "vertices joined with equal ones")
	say(l.VerticesNear, "vertex joined with another within the tolerance", "vertices joined with others within the tolerance")
	say(l.VerticesUnused, "vertex left out: no face uses it", "vertices left out: no face uses them")
	say(l.LeftOut, "line, point or curve left out: only faces are read", "lines, points and curves left out: only faces are read")
	if l.Solids > 1 {
		out = append(out, count(l.Solids)+" solids joined into one mesh")
	}
	if l.OpenEnd {
		out = append(out, "the last line has no line end: if the file was cut short, something is missing")
	}
	return out
}
