// Package shade draws meshes on the CPU: camera, depth-buffered smooth-shaded
// triangles, the diverging colour scale and picking. It knows no files and no toolkit.
//
// Lengths are mm, positive deviations stand proud. The view is orthographic, so
// a picture can be measured: its scale is the same everywhere. Colours are
// looked up per pixel from the interpolated deviation, never interpolated
// themselves. A triangle with a corner that has no number is hatched as a whole.
//
// A frame goes through four steps. The model's triangles, kept in small
// clusters (see Model), are drawn by several workers, each into a buffer of its
// own with one 64-bit word per pixel: depth above scalar above model and light.
// What was seen in the frame before is drawn first, and clusters behind it are
// passed over. The buffers are merged with max, which is the depth test, and words become
// colours once per pixel. The picture is the same for any number of workers
// and whatever was drawn before. Positions are whole numbers from the mesh to
// the pixel, so it is the same on any processor, and neighbours leave no gap.
// Where the processor has vector instructions, kernels do the same, to the bit.
package shade
