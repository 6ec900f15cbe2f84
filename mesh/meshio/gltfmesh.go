package meshio

import "shutline/mesh/geom"

// mesh adds the primitives of mesh k, carried by place.
func (g *gltf) mesh(k int, place affine, in *indexed, out *decoded) error {
	if k < 0 || k >= len(g.doc.Meshes) {
		return g.missing("a node", "mesh", k, len(g.doc.Meshes))
	}
	m := &g.doc.Meshes[k]
	for i := range m.Primitives {
		if err := g.ctx.Err(); err != nil {
			return err
		}
		p := gltfPart{gltf: g, gltfPrimitive: &m.Primitives[i], where: atByte(g.at).of("primitive %d of mesh %d", i, k)}
		for _, w := range m.Weights {
			if w != 0 {
				return g.fault(p.where, "its shape is that of morph targets; export it as it stands, without them")
			}
		}
		if err := p.add(place, in, out); err != nil {
			return err
		}
	}
	return nil
}

// gltfPart is a primitive that is being read.
type gltfPart struct {
	*gltf
	*gltfPrimitive
	where place
}

func (p *gltfPart) add(place affine, in *indexed, out *decoded) error {
	mode := modeTriangles
	if p.Mode != nil {
		mode = *p.Mode
	}
	switch mode {
	case modeTriangles, modeStrip, modeFan, modePoints:
	case 1, 2, 3:
		out.LeftOut++
		return nil
	default:
		return p.fault(p.where, "its mode %d is none of glTF's (0 to 6); it is damaged: export it again", mode)
	}
	position, ok := p.Attributes["POSITION"]
	if !ok {
		return p.fault(p.where, "it has no POSITION; export it again")
	}
	points, err := p.vectors(position, "POSITION")
	if err != nil {
		return err
	}
	before := len(in.points)
	if uint64(before)+uint64(len(points)) >= none {
		return p.fault(p.where, "the scene has more than 4,294,967,294 vertices; cut it into parts")
	}
	indices, err := p.indices(len(points))
	if err != nil {
		return err
	}
	if p.corners += max(len(indices), len(points)); p.corners > max(copiedCorners, copiesPerByte*p.size) {
		return p.fault(p.where, "meshes are repeated until they have more than %s corners, too many for a file of %s bytes; export the copies as meshes of their own",
			count(max(copiedCorners, copiesPerByte*p.size)), count(p.size))
	}
	for i, v := range points {
		if i%facesPerCheck == 0 && p.ctx.Err() != nil {
			return p.ctx.Err()
		}
		in.points = append(in.points, place.apply(v))
	}
	if err := p.colour(before, len(points)); err != nil {
		return err
	}
	if mode == modePoints {
		return p.normal(place, before, len(points))
	}
	return p.triangles(mode, indices, uint32(before), place.m.Det() < 0, in)
}

// triangles adds the faces of a list, strip or fan. A transform that mirrors turns them (glTF 2.0, section 3.7.4).
func (p *gltfPart) triangles(mode int, v []uint32, base uint32, turned bool, in *indexed) error {
	add := func(a, b, c uint32) {
		if turned {
			b, c = c, b
		}
		in.triangles = append(in.triangles, [3]uint32{base + a, base + b, base + c})
	}
	switch {
	case mode == modeTriangles && len(v)%3 != 0, mode != modeTriangles && len(v) > 0 && len(v) < 3:
		return p.fault(p.where, "its %s corners do not make whole triangles; it is damaged: export it again", count(len(v)))
	case mode == modeTriangles:
		for ; len(v) > 0; v = v[3:] {
			add(v[0], v[1], v[2])
		}
	case mode == modeStrip:
		for i := 2; i < len(v); i++ {
			add(v[i-2], v[i-1+i%2], v[i-i%2])
		}
	default:
		for i := 2; i < len(v); i++ {
			add(v[i-1], v[i], v[0])
		}
	}
	return nil
}

// indices returns the corners, or 0, 1, 2 … when the primitive has no list of them.
func (p *gltfPart) indices(points int) ([]uint32, error) {
	if p.Indices == nil {
		v := make([]uint32, points)
		for i := range v {
			v[i] = uint32(i)
		}
		return v, nil
	}
	a, err := p.accessor(*p.Indices, "indices")
	if err != nil {
		return nil, err
	}
	if a.components != 1 || a.Normalized || a.ComponentType != 5121 && a.ComponentType != 5123 && a.ComponentType != 5125 {
		return nil, p.fault(p.where, "its indices are not unsigned whole numbers; export it again")
	}
	v := make([]uint32, a.Count)
	for i := range v {
		if i%facesPerCheck == 0 && p.ctx.Err() != nil {
			return nil, p.ctx.Err()
		}
		x := a.value(i, 0)
		if x >= float64(points) {
			return nil, p.fault(p.where, "corner %s names vertex %s, but there are vertices 0 to %s; it is damaged: export or copy it again", count(i), count(int(x)), count(points-1))
		}
		v[i] = uint32(x)
	}
	return v, nil
}

// vectors returns an attribute of three components.
func (p *gltfPart) vectors(k int, name string) ([]geom.Vec, error) {
	a, err := p.accessor(k, name)
	if err != nil {
		return nil, err
	}
	if a.components != 3 {
		return nil, p.fault(p.where, "its %s is %s, not VEC3; export it again", name, excerpt([]byte(a.Type)))
	}
	out := make([]geom.Vec, a.Count)
	for i := range out {
		if i%facesPerCheck == 0 && p.ctx.Err() != nil {
			return nil, p.ctx.Err()
		}
		out[i] = geom.Vec{X: a.value(i, 0), Y: a.value(i, 1), Z: a.value(i, 2)}
	}
	return out, nil
}

// normal keeps the normals of n points from before on; they are left out of the whole scan when a part of it has none.
func (p *gltfPart) normal(place affine, before, n int) error {
	k, ok := p.Attributes["NORMAL"]
	if !ok || len(p.normals) != before {
		return nil
	}
	normals, err := p.vectors(k, "NORMAL")
	if err != nil {
		return err
	}
	if len(normals) != n {
		return p.fault(p.where, "it has %s normals for %s vertices; it is damaged: export it again", count(len(normals)), count(n))
	}
	for _, v := range normals {
		p.normals = append(p.normals, place.normal(v))
	}
	return nil
}

// colour keeps the colours of n points from before on; they are left out of the whole mesh when a part of it has none.
func (p *gltfPart) colour(before, n int) error {
	k, ok := p.Attributes["COLOR_0"]
	if !ok || len(p.colours) != before {
		return nil
	}
	a, err := p.accessor(k, "COLOR_0")
	if err != nil {
		return err
	}
	if a.Count != n || a.components < 3 {
		return p.fault(p.where, "its COLOR_0 is not a colour for each of %s vertices; it is damaged: export it again", count(n))
	}
	for i := range n {
		if i%facesPerCheck == 0 && p.ctx.Err() != nil {
			return p.ctx.Err()
		}
		var c [3]uint8
		for j := range c {
			c[j] = byteOf(fromLinear(a.value(i, j)))
		}
		p.colours = append(p.colours, c)
	}
	return nil
}
