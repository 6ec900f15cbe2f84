package inspection

// Laying says how a seam's path comes about.
type Laying uint8

// The ways of laying a path.
const (
	Typed  Laying = iota // every point as the file has it
	Traced               // along the middle of the gap between the file's points
	Found                // the seam stands for every shut line of the body; it has no path
)

// String returns the word used in files: "typed", "traced" or "found".
func (l Laying) String() string { return [...]string{"typed", "traced", "found"}[l] }

// LayingOf returns how the path of seam k comes about.
func (i *Inspection) LayingOf(k int) Laying {
	if k < len(i.SeamLaying) {
		return i.SeamLaying[k]
	}
	return Typed
}

// AllTyped reports whether every seam has its whole path.
func (i *Inspection) AllTyped() bool {
	for k := range i.Seams {
		if i.LayingOf(k) != Typed {
			return false
		}
	}
	return true
}

// laying reads trace and find; before holds those of the seams above.
func (r *reader) laying(t table, before []Laying) Laying {
	trace, find := t.flag("trace"), t.flag("find")
	switch {
	case find && trace:
		r.fail(joined(t.path, "trace"), "a seam is traced between its points or found without any; leave trace or find out")
	case find && t.has("path"):
		r.fail(joined(t.path, "path"), "find = true stands for every shut line of the body and needs no path; leave path out, or write trace = true instead to follow this one")
	case find && contains(wordsOf(before), Found.String()):
		r.fail(joined(t.path, "find"), "find = true stands for every shut line of the body; write it once")
	case find:
		return Found
	case trace:
		return Traced
	}
	return Typed
}

func wordsOf(list []Laying) []string {
	words := make([]string, len(list))
	for k, l := range list {
		words[k] = l.String()
	}
	return words
}
