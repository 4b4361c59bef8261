package web

import (
	"fmt"
	"math"
	"strconv"
)

// The drawn vessel stands in the document before any script runs. Its outlines
// are read from vessel.js, which draws the very same picture a moment later: a
// browser test lays the two over each other.

var (
	outlineOf  = later(`(?s)const (\w+) = \{(.*?)\n?\};`)
	outlineKey = later(`(\w+): (?:'([^']*)'|(-?[\d.]+))`)
	bubbleRows = later(`(?s)const BUBBLES = \[(.*?)\n\];`)
	bubbleRow  = later(`\[([\d.]+), ([\d.]+), ([\d.]+)\]`)
)

// outline is the form of one kind of vessel.
type outline struct {
	paths  map[string]string
	number map[string]float64
}

// outlines is what vessel.js knows.
type outlines struct {
	forms   map[Kind]outline
	bulge   map[string]float64 // by stage: how far the middle stands above the edge
	bubbles [][3]float64       // across, depth below the surface, radius
}

func readOutlines(source []byte) (outlines, error) {
	o := outlines{forms: map[Kind]outline{}}
	for _, m := range outlineOf().FindAllSubmatch(source, -1) {
		f := outline{map[string]string{}, map[string]float64{}}
		for _, pair := range outlineKey().FindAllSubmatch(m[2], -1) {
			if n, err := strconv.ParseFloat(string(pair[3]), 64); err == nil {
				f.number[string(pair[1])] = n
			} else {
				f.paths[string(pair[1])] = string(pair[2])
			}
		}
		switch string(m[1]) {
		case "JAR":
			o.forms[Jar] = f
		case "BOWL":
			o.forms[Bowl] = f
		case "BULGE":
			o.bulge = f.number
		}
	}
	if rows := bubbleRows().FindSubmatch(source); rows != nil {
		for _, m := range bubbleRow().FindAllSubmatch(rows[1], -1) {
			var b [3]float64
			for i := range b {
				b[i], _ = strconv.ParseFloat(string(m[i+1]), 64) // the pattern takes digits only
			}
			o.bubbles = append(o.bubbles, b)
		}
	}
	if len(o.forms[Jar].number) < 4 || len(o.forms[Bowl].number) < 4 || len(o.bulge) == 0 || len(o.bubbles) == 0 {
		return o, fmt.Errorf("web: vessel.js draws in a way that is not understood")
	}
	return o, nil
}

// picture is one vessel drawn at its present level.
type picture struct {
	Kind            Kind
	Clip            string // a name for what keeps the dough inside
	Paths           map[string]string
	Edge            string // the surface
	Floor, Left     string
	Band, Hope      string // heights, or "" where there is none
	BandX, BandWide string
	HopeX, HopeTo   string
	Bubbles         [][3]string
}

// draw is what vessel.js does in update.
func (o outlines) draw(v Vessel) picture {
	f := o.forms[v.Kind]
	left, right, floor, brim := f.number["left"], f.number["right"], f.number["floor"], f.number["brim"]
	y := func(mm float64) float64 { return floor - mm/float64(v.InsideMM)*(floor-brim) }
	level, known := floor, v.Height != nil && !math.IsNaN(float64(v.Height.Value)) && given(v.InsideMM)
	if known {
		level = max(brim-14, y(float64(v.Height.Value)))
	}
	dome, ok := o.bulge[string(v.Stage)]
	if !ok {
		dome = 1
	}
	goal := v.TargetRatio
	if v.Kind == Bowl {
		dome *= 2
	} else if goal = 0; v.Forecast != nil {
		goal = v.Forecast.Ratio
	}
	p := picture{
		Kind: v.Kind, Clip: "frame-" + v.ID, Paths: f.paths, Floor: short(floor + 2), Left: short(left),
		Edge:  fmt.Sprintf("M%s %.1fQ%s %.1f %s %.1f", short(left), level, short((left+right)/2), level-2*dome, short(right), level),
		BandX: short(left - 3), BandWide: short(right - left + 6), HopeX: short(left + 4), HopeTo: short(right - 4),
	}
	if known && given(v.FedHeightMM) {
		p.Band = fmt.Sprintf("%.1f", y(float64(v.FedHeightMM))-2)
		if given(goal) && v.Stage == Rising {
			p.Hope = fmt.Sprintf("%.1f", y(float64(goal)*float64(v.FedHeightMM)))
		}
	}
	p.Bubbles = o.freckle(f, v, level)
	return p
}

// freckle shows more bubbles the farther the dough has risen.
func (o outlines) freckle(f outline, v Vessel, level float64) (shown [][3]string) {
	depth := f.number["floor"] - level
	if v.Ratio == nil || depth <= 20 {
		return nil
	}
	many := math.Round(min(1, max(0, (float64(v.Ratio.Value)-1)/0.9)) * float64(len(o.bubbles)))
	for i, b := range o.bubbles {
		if float64(i) < many {
			left, right := f.number["left"], f.number["right"]
			shown = append(shown, [3]string{fmt.Sprintf("%.1f", left+8+b[0]*(right-left-16)), fmt.Sprintf("%.1f", level+6+b[1]*(depth-12)), short(b[2])})
		}
	}
	return shown
}

// given reports whether a number is known and not nought.
func given(r Real) bool { return r != 0 && !math.IsNaN(float64(r)) && !math.IsInf(float64(r), 0) }

func short(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
