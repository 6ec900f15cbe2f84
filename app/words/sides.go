package words

import (
	"strings"

	"shutline/deviation/gapflush"
)

// sides says which panel is side A and which side B in a way that can be checked at the vehicle. A seam's name
// claims which it is; only the direction of its path, or the axes it was laid by, make it so.
func (w Writer) sides(c *Card, r *gapflush.Result) {
	runs := r.Sides()
	if len(runs) == 0 {
		return
	}
	var where [2][]string
	for _, run := range runs {
		at := ""
		if len(runs) > 1 {
			var list []int
			for i := run.First; i <= run.Last; i++ {
				list = append(list, i)
			}
			at = w.stations(r, list)
		}
		for k, t := range [2]gapflush.Toward{run.A, run.B} {
			said := w.toward(t)
			if at != "" {
				said = w.say("sides.at", "{{.Toward}} at {{.Stations}}", fields{"Toward": said, "Stations": at})
			}
			where[k] = append(where[k], said)
		}
	}
	data := fields{"A": w.list(where[0]), "B": w.list(where[1])}
	panels, named := r.Seam.Panels()
	said := ""
	if named {
		data["PanelA"], data["PanelB"] = panels[0], panels[1]
		data["Turned"] = r.Seam.TurnedName()
		said = w.say("sides.named", "Side A, called {{.PanelA}}, lies {{.A}}; side B, called {{.PanelB}}, lies {{.B}}. Where that is the wrong way round, name the seam “{{.Turned}}”.", data)
	} else {
		said = w.say("sides", "Side A lies {{.A}}, side B {{.B}}.", data)
	}
	switch {
	case w.OwnFrame && w.Reference && w.Window:
		said += " " + w.say("sides.own.reference.window", "These axes are the reference's own: nothing tells which way they lie on the vehicle. Where they are the vehicle's, choose so under “Axes of the reference” in the settings of Parts.", nil)
	case w.OwnFrame && w.Reference:
		said += " " + w.say("sides.own.reference", "These axes are the reference's own: nothing tells which way they lie on the vehicle. Where they are the vehicle's, write axes = \"vehicle\" in [reference].", nil)
	case w.OwnFrame:
		said += " " + w.say("sides.own", "These axes are the scan's own: there is no reference that tells which way they lie on the vehicle.", nil)
	}
	c.add(said)
}

// reversed says first of all that side A is the rear or the lower panel, where the vehicle's axes tell: seams that are found or
// traced have it the other way, so that the path may have been typed in reverse, and with it every flush be of the other panel.
func (w Writer) reversed(c *Card, r *gapflush.Result) bool {
	runs := r.Sides()
	panels, named := r.Seam.Panels()
	if w.OwnFrame || !named || len(runs) != 1 || runs[0].A.String() != "+x" && runs[0].A.String() != "-z" {
		return false
	}
	data := fields{"PanelA": panels[0], "PanelB": panels[1], "A": w.toward(runs[0].A), "B": w.toward(runs[0].B), "Turned": r.Seam.TurnedName()}
	c.add(w.say("sides.reversed", "By the direction of its path, side A, called {{.PanelA}}, lies {{.A}} and side B, called {{.PanelB}}, {{.B}}. Where that is the wrong way round at the vehicle, the path was drawn in reverse, and what is said here of {{.PanelA}} holds for {{.PanelB}} and the other way about: name the seam “{{.Turned}}”.", data))
	c.next(w.say("sides.reversed.next", "Before anything is moved: see at the vehicle whether {{.PanelA}} does lie {{.A}}. Where it does not, name the seam “{{.Turned}}” and read this again.", data))
	return true
}

// toward words a direction by the axes of the frame: where they are the vehicle's also by the vehicle's, as ISO 4130 has them.
func (w Writer) toward(t gapflush.Toward) string {
	data := fields{"Axis": strings.ReplaceAll(t.String(), "-", "−")}
	if w.OwnFrame {
		return w.say("toward.axis", "toward {{.Axis}}", data)
	}
	switch t.String() {
	case "-x":
		return w.say("toward.front", "toward {{.Axis}} (the front)", data)
	case "+x":
		return w.say("toward.rear", "toward {{.Axis}} (the rear)", data)
	case "-y":
		return w.say("toward.left", "toward {{.Axis}} (the left)", data)
	case "+y":
		return w.say("toward.right", "toward {{.Axis}} (the right)", data)
	case "-z":
		return w.say("toward.down", "toward {{.Axis}} (down)", data)
	}
	return w.say("toward.up", "toward {{.Axis}} (up)", data)
}
