package meshio_test

import (
	"context"
	"errors"
	"fmt"

	"shutline/mesh/meshio"
)

func ExampleRead() {
	ctx := context.Background()
	_, err := meshio.Read(ctx, gearwheel, meshio.Options{})
	var unknown *meshio.UnitError
	if errors.As(err, &unknown) {
		for _, r := range unknown.Readings {
			fmt.Println("if", r.Unit, "the part is", meshio.SizeText(r.Size), "mm")
		}
	}
	part, err := meshio.Read(ctx, gearwheel, meshio.Options{Unit: meshio.Millimetre})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(part.Format, len(part.Mesh.Vertices), "vertices", len(part.Mesh.Faces), "faces")
	// Output:
	// if cm the part is 417.2 x 417.2 x 80 mm
	// if in the part is 1060 x 1060 x 203.2 mm
	// STL binary 1222 vertices 2444 faces
}
