package learn

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
)

// curve is one line of a chart.
type curve struct {
	class  string
	values []float64
}

const (
	chartWidth, chartHeight  = 1040.0, 220.0
	chartLeft, chartRight    = 62.0, 8.0
	chartTop, chartBottom    = 8.0, 22.0
	chartMostPoints          = 1500
	labelEvery, labelEveryUp = 90.0, 36.0 // room for a tick's label [px]
)

// chart draws curves over time, from a sample to another. Where there are more values than pixels it draws the extremes of each
// pixel.
func chart(label string, curves []curve, stepS float64, from, to int) template.HTML {
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range curves {
		for _, v := range c.values[from:to] {
			if !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	if !(high > low) {
		low, high = low-1, low+1
	}
	tick := nice((high - low) / ((chartHeight - chartTop - chartBottom) / labelEveryUp))
	low, high = math.Floor(low/tick)*tick, math.Ceil(high/tick)*tick
	x := func(i float64) float64 {
		return chartLeft + (i-float64(from))/math.Max(float64(to-1-from), 1)*(chartWidth-chartLeft-chartRight)
	}
	y := func(v float64) float64 { return chartTop + (high-v)/(high-low)*(chartHeight-chartTop-chartBottom) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="%s">`, chartWidth, chartHeight, template.HTMLEscapeString(label))
	for v := low; v <= high+tick/2; v += tick {
		class := "rule"
		if math.Abs(v) < tick/2 {
			class = "zero"
		}
		fmt.Fprintf(&b, `<path class="%s" d="M%g %.1fH%g"/><text x="%g" y="%.1f" text-anchor="end">%s</text>`, class, chartLeft, y(v), chartWidth-chartRight, chartLeft-6, y(v)+4, axisNumber(v))
	}
	spanS := float64(to-1-from) * stepS
	every := niceTime(spanS / ((chartWidth - chartLeft - chartRight) / labelEvery))
	for t := math.Ceil(float64(from)*stepS/every) * every; t <= float64(to-1)*stepS+1e-6; t += every {
		px := x(t / stepS)
		fmt.Fprintf(&b, `<path class="rule" d="M%.1f %gV%g"/>`, px, chartTop, chartHeight-chartBottom)
		fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">%s</text>`, min(px, chartWidth-24), chartHeight-6, clockLabel(t, every))
	}
	for _, c := range curves {
		fmt.Fprintf(&b, `<path class="%s" d="%s"/>`, c.class, path(c.values, from, to, x, y))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

func path(v []float64, from, to int, x, y func(float64) float64) string {
	var b strings.Builder
	pen := "M"
	put := func(i int, w float64) {
		fmt.Fprintf(&b, "%s%.1f %.1f", pen, x(float64(i)), y(w))
		pen = "L"
	}
	per := max(1, (to-from)/chartMostPoints)
	for i := from; i < to; i += per {
		low, high := math.Inf(1), math.Inf(-1)
		for k := i; k < min(i+per, to); k++ {
			if !math.IsNaN(v[k]) {
				low, high = min(low, v[k]), max(high, v[k])
			}
		}
		switch {
		case low > high:
			pen = "M"
		case low == high:
			put(i, low)
		default:
			put(i, low)
			put(i, high)
		}
	}
	return b.String()
}

func nice(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= v {
			return m * p
		}
	}
	return 10 * p
}

func niceTime(s float64) float64 {
	for _, t := range []float64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200} {
		if t >= s {
			return t
		}
	}
	return 86400
}

func clockLabel(t, every float64) string {
	s := int(math.Round(t))
	switch {
	case s >= 3600 || every >= 3600:
		return fmt.Sprintf("%d:%02d h", s/3600, s/60%60)
	case every >= 60:
		return fmt.Sprintf("%d min", s/60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

func axisNumber(v float64) string {
	return strings.Replace(strconv.FormatFloat(math.Round(v*100)/100+0, 'f', -1, 64)+" W", "-", "−", 1)
}
