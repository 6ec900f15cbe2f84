package evidence

import (
	"image"
	"slices"

	"shutline/deviation/chart"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// facingViews are the views along the axes, of which at least one shows a seam from its outside.
var facingViews = []string{"left", "right", "top", "bottom", "front", "rear"}

// overviews draws the seams on the scan where there is no heat picture to show them: a scan that stands alone.
// Each seam is seen in the one of the views from which most of it is seen face on.
func (w *writer) overviews() error {
	if w.r.Surface != nil || w.r.Mesh == nil || len(w.r.Mesh.Faces) == 0 || len(w.r.Seams) == 0 {
		return nil
	}
	views := w.seamViews()
	if len(views) == 0 {
		return nil
	}
	model, err := soon(w.ctx, func() *shade.Model { return shade.NewModel(w.r.Mesh, w.r.Normals) })
	if err != nil {
		return err
	}
	own := !slices.ContainsFunc(w.r.Inputs, func(in Input) bool { return in.Role == "reference" })
	return w.drawViews(0.4, 0.75, "seams", model, w.r.Mesh.Bounds(), views, false, func(pic *shade.Picture, cam shade.Camera, view string) *image.RGBA {
		return chart.Seams(pic, cam, chart.SeamsInfo{Title: titleOf(w.r), View: view, Seams: w.r.Seams, OwnFrame: own}, chart.Light(), pictureScale)
	})
}

// seamViews returns the views from which the seams are seen, in the order of facingViews.
func (w *writer) seamViews() []string {
	used := map[string]bool{}
	for _, r := range w.r.Seams {
		var out geom.Vec
		for i := range r.Stations {
			out = out.Add(r.Stations[i].U)
		}
		best, most := "", 0.0
		for _, name := range facingViews {
			cam, ok := shade.ViewOf(name, w.r.Mesh.Bounds(), 1)
			if d := cam.Back().Dot(out); ok && d > most {
				best, most = name, d
			}
		}
		if best != "" {
			used[best] = true
		}
	}
	var views []string
	for _, name := range facingViews {
		if used[name] {
			views = append(views, name)
		}
	}
	return views
}
