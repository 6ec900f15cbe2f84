package meshio

// bytesPerTriangle are the most bytes of a file that a triangle takes: a fixed number in binary STL; elsewhere beyond what exporters
// write with normals, colours and sixteen digits, half a vertex to a triangle. A GLB holds pictures as well and tells nothing by its size.
var bytesPerTriangle = map[kind]int{kindSTLBinary: stlTriangle, kindSTLText: 400, kindPLY: 100, kindOBJ: 200}

// Least returns how many triangles a file holds at the least, told by its size and its first bytes; 0 where they tell nothing.
func Least(path string) int {
	f, err := open(path)
	if err != nil {
		return 0 // reading it says why
	}
	defer f.Close()
	s := &source{path: path, file: f, size: int(f.info.Size())}
	s.head = make([]byte, min(s.size, headBytes))
	if f.at(s.head, 0) != nil {
		return 0
	}
	k, err := detect(s)
	if err != nil || k == kindSTLBinary && !isSizedSTL(s.head, s.size) || bytesPerTriangle[k] == 0 {
		return 0
	}
	if k == kindSTLBinary {
		return (s.size - stlHeader) / stlTriangle
	}
	return s.size / bytesPerTriangle[k]
}
