package replay

import (
	"bytes"
	"fmt"
	"html"
	"math"
	"path/filepath"
	"time"

	"leavend/peak"
)

// The picture has three panels over one time axis: the surface in the jar,
// the forecasts (a funnel for each feed, which closes in on the top), and the
// temperature with the mat.
const (
	chartWidth   = 960.0
	chartLeft    = 64.0
	chartRight   = 24.0
	curveTop     = 64.0
	curveBottom  = 360.0
	funnelTop    = 384.0
	funnelBottom = 452.0
	warmTop      = 480.0
	warmBottom   = 548.0
	chartHeight  = 596.0
)

// chartStyle gives every mark a shape or a stroke of its own beside its
// colour, and follows the reader's light or dark background.
const chartStyle = `
.leaf{--paper:#fdfbf7;--ink:#2b2622;--soft:#7d736a;--line:#e4ddd3;--crumb:#b5651d;--crust:#8a4413;--fill:#f0dcc2;--cool:#2f6f8f;--mat:#c7472c}
@media (prefers-color-scheme:dark){.leaf{--paper:#1d1a17;--ink:#efe7dc;--soft:#a3988c;--line:#3a342e;--crumb:#e0a15a;--crust:#f2c48c;--fill:#4a3722;--cool:#7fbfdc;--mat:#f08a70}}
.leaf text{font:13px system-ui,-apple-system,"Segoe UI",sans-serif;fill:var(--soft)}
.leaf .head{font-size:17px;font-weight:600;fill:var(--ink)}
.leaf .note{fill:var(--ink);font-weight:600}
.leaf .paper{fill:var(--paper)}
.leaf .grid{stroke:var(--line);stroke-width:1;fill:none}
.leaf .area{fill:var(--fill);stroke:none}
.leaf .curve{stroke:var(--crust);stroke-width:2.5;fill:none;stroke-linejoin:round;stroke-linecap:round}
.leaf .raw{stroke:var(--crumb);stroke-width:1.6;stroke-linecap:round;fill:none;opacity:.4}
.leaf .fed{stroke:var(--ink);stroke-width:1.5;fill:none}
.leaf .call{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:5 4;fill:none}
.leaf .mark{fill:var(--paper);stroke:var(--ink);stroke-width:2}
.leaf .funnel{fill:var(--cool);fill-opacity:.22;stroke:var(--cool);stroke-width:1.2;stroke-linejoin:round}
.leaf .mid{fill:var(--cool)}
.leaf .warm{stroke:var(--cool);stroke-width:2;fill:none;stroke-linejoin:round}
.leaf .mat{fill:url(#leaf-hatch);stroke:none}
.leaf .hatch{stroke:var(--mat);stroke-width:2}
`

// canvas maps hours and values to the picture.
type canvas struct {
	b        *bytes.Buffer
	c        *chart
	span     float64
	low, top float64 // of the curve panel, mm above zero
	zero     float64 // height at the first feed
}

func (c *chart) draw(b *bytes.Buffer) {
	v := &canvas{b: b, c: c, span: max(c.hours(c.last), 0.1)}
	v.scaleCurve()
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" class="leaf" viewBox="0 0 %g %g" role="img" aria-labelledby="leaf-title leaf-desc">`+"\n", chartWidth, chartHeight)
	name := filepath.Base(c.title)
	fmt.Fprintf(b, "<title id=\"leaf-title\">Rise curve of %s</title>\n<desc id=\"leaf-desc\">%s</desc>\n", html.EscapeString(name), html.EscapeString(v.words()))
	fmt.Fprintf(b, "<style>%s</style>\n", chartStyle)
	b.WriteString(`<defs><pattern id="leaf-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V6"/></pattern></defs>` + "\n")
	fmt.Fprintf(b, `<rect class="paper" width="%g" height="%g" rx="10"/>`+"\n", chartWidth, chartHeight)
	v.text(chartLeft, 34, "head", "start", name)
	v.text(chartWidth-chartRight, 34, "", "end", c.first.Format("Mon 2 Jan 2006"))
	v.timeAxis()
	v.curvePanel()
	v.funnelPanel()
	v.warmPanel()
	v.marks()
	b.WriteString("</svg>\n")
}

// words says in a sentence what the picture shows.
func (v *canvas) words() string {
	s := fmt.Sprintf("Height of the surface over %s.", hours(v.c.last.Sub(v.c.first)))
	for _, e := range v.c.events {
		switch e.Kind {
		case peak.EventFed:
			s += fmt.Sprintf(" Fed at %s.", e.FeedAt.Format("15:04"))
		case peak.EventPeak:
			s += fmt.Sprintf(" Top at %s, called at %s, %s.", e.PeakAt.Format("15:04"), e.At.Format("15:04"), rise(e))
		}
	}
	return s
}

// scaleCurve finds the height at the first feed and the range of the curve.
func (v *canvas) scaleCurve() {
	p := v.c.surface.points
	if len(p) == 0 {
		v.top = 10
		return
	}
	n := min(len(p), 5)
	for _, q := range p[:n] {
		v.zero += q.v / float64(n)
	}
	for _, q := range p {
		v.low, v.top = min(v.low, q.v-v.zero), max(v.top, q.v-v.zero)
	}
	v.top = max(v.top*1.12, v.low+10)
	v.low = min(v.low, 0) - 0.04*(v.top-v.low)
}

func (v *canvas) x(t float64) float64 {
	return chartLeft + t/v.span*(chartWidth-chartLeft-chartRight)
}

func (v *canvas) y(mm float64) float64 {
	return curveBottom - (mm-v.low)/(v.top-v.low)*(curveBottom-curveTop)
}

func (v *canvas) text(x, y float64, class, anchor, s string) {
	fmt.Fprintf(v.b, `<text x="%.1f" y="%.1f" class="%s" text-anchor="%s">%s</text>`+"\n", x, y, class, anchor, html.EscapeString(s))
}

// timeAxis draws the hours through all panels.
func (v *canvas) timeAxis() {
	step := 1.0
	for _, s := range []float64{1, 2, 3, 6, 12, 24, 48, 168, 720, 2160} {
		if step = s; v.span/s <= 13 {
			break
		}
	}
	first := v.c.first
	midnight := time.Date(first.Year(), first.Month(), first.Day(), 0, 0, 0, 0, first.Location())
	for h := math.Ceil(first.Sub(midnight).Hours()/step) * step; ; h += step {
		at := midnight.Add(time.Duration(h * float64(time.Hour)))
		t := v.c.hours(at)
		if t > v.span {
			return
		}
		x := v.x(t)
		fmt.Fprintf(v.b, `<path class="grid" d="M%.1f %gV%g"/>`+"\n", x, curveTop, warmBottom)
		label := at.Format("15:04")
		if step >= 24 || at.Hour() == 0 && at.Minute() == 0 {
			label = at.Format("2 Jan")
		}
		v.text(x, warmBottom+20, "", "middle", label)
	}
}

// curvePanel draws readings, curve and height axis.
func (v *canvas) curvePanel() {
	step := niceStep((v.top - v.low) / 5)
	for k := math.Ceil(v.low / step); k*step <= v.top; k++ {
		mm := math.Abs(k) * step
		if k < 0 {
			mm = -mm
		}
		fmt.Fprintf(v.b, `<path class="grid" d="M%g %.1fH%g"/>`+"\n", chartLeft, v.y(mm), chartWidth-chartRight)
		v.text(chartLeft-8, v.y(mm)+4, "", "end", fmt.Sprintf("%g", mm))
	}
	v.text(chartLeft-8, curveTop-10, "", "end", "mm")
	v.text(chartLeft, curveTop-10, "", "start", "rise above the first feed")
	if len(v.c.surface.points) < 2 {
		v.text(chartWidth/2, (curveTop+curveBottom)/2, "", "middle", "no readings")
		return
	}
	var area, line, raw bytes.Buffer
	verb := "M"
	for _, p := range v.c.surface.points {
		fmt.Fprintf(&line, "%s%.1f %.1f", verb, v.x(p.t), v.y(p.v-v.zero))
		verb = "L"
	}
	last := v.c.surface.points[len(v.c.surface.points)-1]
	fmt.Fprintf(&area, "%sL%.1f %.1fL%.1f %.1fZ", line.String(), v.x(last.t), v.y(v.low), v.x(v.c.surface.points[0].t), v.y(v.low))
	for _, p := range v.c.raw.points {
		if mm := p.v - v.zero; mm > v.low && mm < v.top {
			fmt.Fprintf(&raw, "M%.1f %.1fh0", v.x(p.t), v.y(mm))
		}
	}
	fmt.Fprintf(v.b, `<path class="area" d="%s"/>`+"\n"+`<path class="raw" d="%s"/>`+"\n"+`<path class="curve" d="%s"/>`+"\n", area.String(), raw.String(), line.String())
}

// niceStep rounds up to 1, 2 or 5 times a power of ten.
func niceStep(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(max(v, 1e-9))))
	for _, m := range []float64{1, 2, 5} {
		if v <= m*p {
			return m * p
		}
	}
	return 10 * p
}

// funnelPanel draws the forecasts of each feed as a funnel: downwards the time
// at which they were made, across the time they name, from early to late.
func (v *canvas) funnelPanel() {
	v.text(chartLeft, funnelTop-4, "", "start", "forecasts of the top, newest lowest: from early to late, dots the middle")
	var run []peak.Event
	drawn := false
	for _, e := range v.c.events {
		switch e.Kind {
		case peak.EventForecast:
			run = append(run, e)
		case peak.EventFed, peak.EventPeak, peak.EventTarget:
			drawn = v.funnel(run) || drawn
			run = run[:0]
		}
	}
	if drawn = v.funnel(run) || drawn; !drawn {
		v.text(chartWidth/2, (funnelTop+funnelBottom)/2+4, "", "middle", "no forecast was given")
	}
}

// funnel draws the forecasts of one feed and reports whether there were any.
func (v *canvas) funnel(run []peak.Event) bool {
	if len(run) == 0 {
		return false
	}
	clip := func(at time.Time) float64 { return v.x(min(max(v.c.hours(at), 0), v.span)) }
	y := func(i int) float64 {
		return funnelTop + 10 + float64(i)/float64(max(len(run)-1, 1))*(funnelBottom-funnelTop-14)
	}
	var early, late, dots string
	every := len(run)/40 + 1
	for i, e := range run {
		early += fmt.Sprintf("L%.1f %.1f", clip(e.Low), y(i))
		late = fmt.Sprintf("L%.1f %.1f", clip(e.High), y(i)) + late
		if i%every == 0 {
			dots += fmt.Sprintf(`<circle class="mid" cx="%.1f" cy="%.1f" r="2"/>`, clip(e.PeakAt), y(i))
		}
	}
	fmt.Fprintf(v.b, `<path class="funnel" d="M%sZ"/>%s`+"\n", (early + late)[1:], dots)
	return true
}

// warmPanel draws the temperature, and the mat as a hatched band below it.
func (v *canvas) warmPanel() {
	v.text(chartLeft, warmTop-6, "", "start", "temperature")
	p := v.c.warmth.points
	if len(p) < 2 {
		v.text(chartWidth/2, (warmTop+warmBottom)/2, "", "middle", "no temperature was read")
		return
	}
	low, top := math.Inf(1), math.Inf(-1)
	for _, q := range p {
		low, top = min(low, q.v), max(top, q.v)
	}
	low, top = math.Floor(low), math.Max(math.Ceil(top), math.Floor(low)+2)
	y := func(c float64) float64 { return warmBottom - 8 - (c-low)/(top-low)*(warmBottom-warmTop-10) }
	for _, c := range []float64{low, top} {
		v.text(chartLeft-8, y(c)+4, "", "end", fmt.Sprintf("%g °C", c))
	}
	var line bytes.Buffer
	verb := "M"
	for _, q := range p {
		fmt.Fprintf(&line, "%s%.1f %.1f", verb, v.x(q.t), y(q.v))
		verb = "L"
	}
	fmt.Fprintf(v.b, `<path class="warm" d="%s"/>`+"\n", line.String())
	for _, s := range v.c.mat {
		fmt.Fprintf(v.b, `<rect class="mat" x="%.1f" y="%.1f" width="%.1f" height="6"/>`+"\n", v.x(s.from), warmBottom-6, max(v.x(s.to)-v.x(s.from), 1))
	}
	if len(v.c.mat) > 0 {
		v.text(chartWidth-chartRight, warmTop-6, "", "end", "hatched: the mat is on")
	}
}

// marks draws what was said: a feed as a line with a foot, the call as a
// dashed line, the top as a ring, the collapse as a triangle.
func (v *canvas) marks() {
	crowded := v.span > 120
	for _, e := range v.c.events {
		x := v.x(v.c.hours(e.At))
		switch e.Kind {
		case peak.EventFed:
			x = v.x(max(v.c.hours(e.FeedAt), 0))
			fmt.Fprintf(v.b, `<path class="fed" d="M%.1f %gV%gm-5 0h10"/>`+"\n", x, curveTop+10, curveBottom)
			if !crowded {
				v.text(x+5, curveTop+20, "note", "start", map[bool]string{true: "fed (found)", false: "fed"}[e.Source == "found"])
			}
		case peak.EventPeak, peak.EventTarget:
			v.callMark(e, x, crowded)
		case peak.EventCollapse:
			y := v.y(v.curveAt(v.c.hours(e.At)))
			fmt.Fprintf(v.b, `<path class="mark" d="M%.1f %.1fl-5 -9h10z"/>`+"\n", x, y+4)
			if !crowded {
				v.text(x+9, y-4, "", "start", "half fallen")
			}
		}
	}
}

// callMark draws the call and the top it is for.
func (v *canvas) callMark(e peak.Event, x float64, crowded bool) {
	fmt.Fprintf(v.b, `<path class="call" d="M%.1f %gV%g"/>`+"\n", x, curveTop+10, warmBottom)
	t := v.c.hours(e.PeakAt)
	px, py := v.x(t), v.y(v.curveAt(t))
	fmt.Fprintf(v.b, `<circle class="mark" cx="%.1f" cy="%.1f" r="5.5"/>`+"\n", px, py)
	if crowded {
		return
	}
	anchor, dx := "start", 10.0
	if px > chartWidth*0.75 {
		anchor, dx = "end", -10
	}
	v.text(px+dx, py-22, "note", anchor, fmt.Sprintf("top %s, %+.0f mm", e.PeakAt.Format("15:04"), e.RiseMM))
	v.text(px+dx, py-7, "", anchor, "called "+e.At.Format("15:04"))
}

// curveAt returns the drawn height at t hours.
func (v *canvas) curveAt(t float64) float64 {
	p := v.c.surface.points
	for i := len(p) - 1; i >= 0; i-- {
		if p[i].t <= t {
			return p[i].v - v.zero
		}
	}
	return 0
}
