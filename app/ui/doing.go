package ui

import "strings"

// doing says in the user's language what work is under way. What it does not know
// is said as results are.
func doing(what string) string {
	for _, with := range []struct{ begin, key string }{{"measuring ", "m"}, {"tracing ", "t"}} {
		name, ok := strings.CutPrefix(what, with.begin)
		switch data := map[string]any{"Name": name}; {
		case !ok:
		case with.key == "m":
			return trf("doing.measuring", "measuring {{.Name}}", data)
		default:
			return trf("doing.tracing", "tracing {{.Name}}", data)
		}
	}
	switch what {
	case "reading the inspection":
		return tr("doing.inspection", "reading the inspection")
	case "reading the scan":
		return tr("doing.scan", "reading the scan")
	case "reading the reference":
		return tr("doing.reference", "reading the reference")
	case "examining the scan":
		return tr("doing.examscan", "examining the scan")
	case "examining the reference":
		return tr("doing.examreference", "examining the reference")
	case "indexing the scan":
		return tr("doing.indexscan", "indexing the scan")
	case "indexing the reference":
		return tr("doing.indexreference", "indexing the reference")
	case "finding the plane of symmetry":
		return tr("doing.mirror", "finding the plane of symmetry")
	case "placing the scan on the reference":
		return tr("doing.place", "placing the scan on the reference")
	case "placing the scan on regions of the reference":
		return tr("doing.regions", "placing the scan on regions of the reference")
	case "placing the scan by datums":
		return tr("doing.datums", "placing the scan by datums")
	case "trying the other hand":
		return tr("doing.hand", "trying the other hand")
	case "comparing the surface":
		return tr("doing.surface", "comparing the surface")
	case "looking for drift":
		return tr("doing.drift", "looking for drift")
	case "looking where the scan lies over itself":
		return tr("doing.closure", "looking where the scan lies over itself")
	case "looking for seams":
		return tr("doing.find", "looking for seams")
	case "cutting sections":
		return tr("doing.sections", "cutting sections")
	case "comparing both scans":
		return tr("doing.both", "comparing both scans")
	case "writing the results":
		return tr("doing.writing", "writing the results")
	case "making the demo job":
		return tr("doing.demo", "making the demo job")
	}
	return told(what)
}
