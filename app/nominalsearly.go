package app

import (
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

const (
	// laidLonger and laidAside are how much a path that is still to be traced may come out longer than its points stand
	// apart, and how far beside them, mm: in a wheel arch, between two points of it.
	laidLonger = 2.0
	laidAside  = 200.0
)

// tellsOfNominals refuses, before anything is read, nominals of which the paths in the inspection alone show that they cannot be
// taken from the seam they name, as [TakeNominals] would in the end. Paths that are to be found are not known yet, and of those to
// be traced only so much. The error is an [InputError].
func tellsOfNominals(i *inspection.Inspection) error {
	if len(i.Nominals) == 0 {
		return nil
	}
	var results []*gapflush.Result
	laid, found := map[string]bool{}, false // traced or found
	t := taking{inspection: i, byName: map[string]int{}}
	for k, seam := range i.Seams {
		t.byName[seam.Name] = k
		name := seam.Name
		if seam.Whole != "" {
			name = seam.Whole
		}
		laid[name] = laid[name] || i.LayingOf(k) != inspection.Typed
		found = found || i.LayingOf(k) == inspection.Found
		results = append(results, &gapflush.Result{Seam: seam, Stations: sampled(seam)})
	}
	if found { // it may be any of them
		return nil
	}
	t.results, t.all = results, wholesOf(results)
	for _, n := range i.Nominals {
		k, known := t.byName[n.Seam]
		if !known || n.Loose || n.Flush && i.Seams[k].Flush.HasNominal || !n.Flush && i.Seams[k].Gap.HasNominal {
			continue
		}
		own, _ := t.all.of(k)
		if n.From == inspection.OtherSide && anyLaid(laid) {
			continue
		}
		from, _, err := t.source(own, n)
		if err != nil {
			return err
		}
		p := pair(own, from)
		switch {
		case laid[own.Seam.Name] || laid[from.Seam.Name]:
			if a, b := lengthOf(own.Seam.Path), lengthOf(from.Seam.Path); p.why != otherLength || max(a, b) <= laidLonger*min(a, b) || besideMirrored(own, from) <= laidAside {
				continue
			}
		case p.why == otherWay && !sameGap(own, from): // their panels tell, which no path shows
			continue
		}
		if why := p.refused(own, from, n.Flush); why != "" {
			return t.bad(n, "%s", why)
		}
	}
	return nil
}

func anyLaid(laid map[string]bool) bool {
	for _, yes := range laid {
		if yes {
			return true
		}
	}
	return false
}

// besideMirrored is how far own's mirror picture lies beside the path of from at most, mm.
func besideMirrored(own, from *gapflush.Result) float64 {
	far := 0.0
	for _, s := range own.Stations {
		_, d := geom.NearestOnPath(mirrored(s.P), from.Seam.Path)
		far = max(far, d)
	}
	return far
}

// sampled returns where the stations along a seam's path will stand, without numbers.
func sampled(seam gapflush.Seam) (list []gapflush.Station) {
	every := seam.Every
	if !(every > 0) {
		every = gapflush.DefaultSeam("", nil).Every
	}
	passed, at := 0.0, every/2
	for k := 1; k < len(seam.Path); k++ {
		a, b := seam.Path[k-1], seam.Path[k]
		long := a.Dist(b)
		for ; at <= passed+long; at += every {
			list = append(list, gapflush.Station{P: a.AddScaled((at-passed)/long, b.Sub(a)), Along: seam.From + at})
		}
		passed += long
	}
	return list
}
