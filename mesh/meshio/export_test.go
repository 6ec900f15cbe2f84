package meshio

import "context"

// Decode reads bytes as if they stood in a file of that name, stated to be in millimetres.
func Decode(name string, data []byte, threads int) (*Loaded, error) {
	s := &source{ctx: context.Background(), path: name, data: data, threads: threads}
	d, err := decode(s)
	if err == nil {
		err = d.finish(s.ctx, Options{Unit: Millimetre})
	}
	if err != nil {
		return nil, err
	}
	return &d.Loaded, nil
}

// ShortNumber is the exact short way of reading a number.
var ShortNumber = shortNumber

// Number reads a number.
var Number = number
