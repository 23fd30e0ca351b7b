package trust

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"kilter/suites/criteria"
)

// ParseName takes a case's name apart.
func ParseName(name string) (Kind, int, error) {
	for _, kind := range []Kind{Stable, Unstable} {
		if digits, is := strings.CutPrefix(name, kind.String()+"-"); is {
			if n, err := strconv.Atoi(digits); err == nil && n >= 0 {
				return kind, n, nil
			}
		}
	}
	return 0, 0, fmt.Errorf("case %q: must be like stable-17 or unstable-3", name)
}

// Tell writes all of one case.
func (o *Outcome) Tell(w io.Writer) error {
	var b strings.Builder
	k := o.Case
	s := &k.Site
	fmt.Fprintf(&b, "%s: %v\n", k.Name(), k.Design)
	fmt.Fprintf(&b, "poll %.1f s from %.1f s on, link %.1f s, gain %.4g, share %.4g\n",
		float64(k.tuning.poll)*stepS, float64(k.tuning.phase)*stepS, float64(k.tuning.link)*stepS, k.tuning.gain, k.tuning.share)
	fmt.Fprintf(&b, "spectral radius %.4f per poll, %.2f of the limit; rings down for %.1f s after the hardest kick\n", k.Radius, k.Of, k.Rings.Seconds)
	for i := range s.Meters {
		m := &s.Meters[i]
		fmt.Fprintf(&b, "%s: every %g s, %g s late, offset %.1f W, noise %.1f W\n", m.Name, m.RefreshS, m.LatencyS, m.OffsetW, m.NoiseW)
	}
	for i := range s.Inverters {
		v := &s.Inverters[i]
		fmt.Fprintf(&b, "%s: %.0f W, %.0f Wh at %.0f %%, dead time %g s, lag %g s, ramps %.0f and %.0f W/s",
			v.Name, v.RatingW, v.Battery.CapacityWh, 100*v.Battery.InitialSOC, v.DeadTimeS, v.LagS, v.RampUpWps, v.RampDownWps)
		if k.Design.native(i) {
			fmt.Fprintf(&b, ", own loop %.4g every %g s", v.Loop.Gain, v.Loop.PeriodS)
		}
		b.WriteByte('\n')
	}
	for i := range s.Loads {
		fmt.Fprintf(&b, "%s: %.0f W\n", s.Loads[i].Name, s.Loads[i].PowerW)
	}
	for i := range s.Arrays {
		fmt.Fprintf(&b, "%s: %.0f W\n", s.Arrays[i].Name, s.Arrays[i].PeakW)
	}
	for _, e := range k.story.events {
		fmt.Fprintf(&b, "at %v: %T%+v\n", time.Duration(e.at)*stepMS*time.Millisecond, e.action, e.action)
	}
	fmt.Fprintf(&b, "quiet from %v on, lasts %v\n", time.Duration(k.story.quiet)*stepMS*time.Millisecond, time.Duration(k.story.lasts)*stepMS*time.Millisecond)
	fmt.Fprintf(&b, "swings in the tail: %d by all together, %d by one alone\n", o.Swings, o.SingleSwings)
	for _, r := range o.Results {
		fmt.Fprintf(&b, "%s: %s", r.Name, r.Status)
		if r.Valid {
			fmt.Fprintf(&b, ", margin %.4g %s at %.1f s, observed %.4g, limit %.4g", r.Margin, r.Unit, r.AtS, r.Observed, r.Limit)
		}
		fmt.Fprintf(&b, ". %s\n", r.Detail)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// File is one file of a study.
type File struct {
	Name  string
	Write func(io.Writer) error
}

// Files are the tables, the cases' figures, and a picture.
func (s *Study) Files() []File {
	return []File{{"trust.md", s.Write}, {"cases.csv", s.writeCases}, {"trust.svg", s.picture}}
}

// writeCases writes a line a case, with status and margin of each criterion.
func (s *Study) writeCases(w io.Writer) error {
	out := csv.NewWriter(w)
	for i, o := range s.Outcomes {
		k := o.Case
		head := []string{"case", "design", "spectral_radius", "of_limit", "draws", "rings_s", "swings", "single_swings"}
		line := []string{k.Name(), k.Design.String(), figure(k.Radius), figure(k.Of), strconv.Itoa(k.Drawn),
			figure(k.Rings.Seconds), strconv.Itoa(o.Swings), strconv.Itoa(o.SingleSwings)}
		for _, r := range o.Results {
			head = append(head, r.Name, r.Name+"_margin_"+r.Unit)
			margin := ""
			if r.Valid {
				margin = figure(r.Margin)
			}
			line = append(line, string(r.Status), margin)
		}
		if i == 0 {
			if err := out.Write(head); err != nil {
				return err
			}
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func figure(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// result finds a criterion's result.
func (o *Outcome) result(name string) *criteria.Result {
	for i := range o.Results {
		if o.Results[i].Name == name {
			return &o.Results[i]
		}
	}
	return nil
}
