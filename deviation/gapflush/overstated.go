package gapflush

import (
	"context"
	"slices"
)

const (
	// overstatedBy is how many times the radius that points show a stated one is at least, so that it is looked for anew before the
	// points are said to lie on another form: a smaller error the fits find by themselves.
	overstatedBy = 2
	// mostlyRolls is the share of stations that must show a roll of the radius found, so that it is the edge's.
	mostlyRolls = 2.0 / 3
)

// overstated looks for the radius of edges that were stated round and of which hardly a station shows such a roll, or whose points
// seem to lie on another form: laid on a roll far too large, a hem's points lie on a chamfer sooner. It returns the first
// look at the stations with the radius found, where most then show a roll and none is told to be of another form.
func (j *job) overstated(ctx context.Context, c *cutter, first []raw, kn []known) ([]raw, error) {
	var wrong [2]bool
	for k := A; k <= B; k++ {
		if kn[0].form[k] == Round && j.seam.Radius[k] > 0 && kn[0].radius[k] == j.seam.Radius[k] {
			form, _, _ := j.voted(first, kn, k)
			rolls, seen := rollsAmong(first, k)
			wrong[k] = form != Round || float64(rolls) <= (1-mostlyRolls)*float64(seen)
		}
	}
	if !wrong[A] && !wrong[B] {
		return first, nil
	}
	r, n, _, err := j.firstRadius(ctx, c, wrong, tellingArc)
	if err != nil {
		return nil, err
	}
	for k := A; k <= B; k++ {
		wrong[k] = wrong[k] && n[k] >= few && overstatedBy*r[k] <= j.seam.Radius[k]
	}
	for wrong[A] || wrong[B] {
		with := slices.Clone(kn)
		for i := range with {
			for k := A; k <= B; k++ {
				if wrong[k] {
					with[i].radius[k], with[i].radiusU[k] = r[k], defaultRadiusU
				}
			}
		}
		second, err := j.run(ctx, c, with, nil, nil)
		if err != nil {
			return nil, err
		}
		right := true
		for k := A; k <= B; k++ {
			form, _, _ := j.voted(second, with, k)
			if rolls, seen := rollsAmong(second, k); wrong[k] && (form != Round || rolls == 0 || float64(rolls) < mostlyRolls*float64(seen)) {
				wrong[k], right = false, false
			}
		}
		if !right {
			continue
		}
		for k := A; k <= B; k++ {
			if wrong[k] {
				j.noteUnlike(k, r[k], n[k])
			}
		}
		copy(kn, with)
		return second, nil
	}
	return first, nil
}

// rollsAmong counts the stations that show a roll on a side, and those that show a face there.
func rollsAmong(first []raw, k Side) (rolls, seen int) {
	for i := range first {
		if !first[i].seenA[k] {
			continue
		}
		seen++
		if e := &first[i].side[k].edge; e.found && e.kind == Round {
			rolls++
		}
	}
	return rolls, seen
}
