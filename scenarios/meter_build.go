package scenarios

import "kilter/physics"

// The words for accuracy classes and conductors.
var (
	meterClasses = map[string]physics.MeterClass{"class 1": physics.MeterClass1, "class 0.5 S": physics.MeterClass05S, "class 2": physics.MeterClass2}
	ctClasses    = map[string]physics.CTClass{
		"class 0.2": physics.CTClass02, "class 0.5": physics.CTClass05, "class 0.5 S": physics.CTClass05S,
		"class 1": physics.CTClass1, "class 3": physics.CTClass3, "class 5": physics.CTClass5,
	}
	conductors = map[string]physics.Phases{"L1": physics.L1, "L2": physics.L2, "L3": physics.L3}
)

func (b *siteBuilder) meter(name string, feeder int, f *meterFile) {
	p := &b.site.Plant
	m := physics.MeterParams{
		Name: name, Feeder: feeder, Phases: b.phases(f.Phases), Reversed: f.Orientation.s == "reversed",
		RefreshS: b.ticks(f.Refresh), PhaseS: b.ticks(f.Phase), LatencyS: b.ticks(f.Latency),
		OffsetW: f.Offset.v, GainError: f.GainError.v, NoiseW: f.Noise.v, ResolutionW: f.Resolution.v,
		CTs: b.transformers(f.CTs), PerPhase: f.Registers.s == "per phase",
	}
	if class, said := meterClasses[f.Class.s]; said {
		m.Class = &class
	}
	if class, said := ctClasses[f.CTClass.s]; said {
		m.CTClass = &class
	}
	p.Meters = append(p.Meters, m)
	b.lessThan(f.Phase, f.Refresh, "the refresh")
	b.list(name, Meter, len(p.Meters)-1, feeder, f.Wire)
}

// transformers tells how a meter is fitted; nil stands for a meter without a fault.
func (b *siteBuilder) transformers(f *ctsFile) *physics.CTWiring {
	if f == nil {
		return nil
	}
	w := physics.RightWiring()
	for k, ct := range []*ctFile{f.L1, f.L2, f.L3} {
		if k >= b.site.Plant.Phases {
			w[k] = physics.CT{}
			if ct != nil {
				b.add(ct.At, "a transformer of a conductor that the supply lacks", "L1 alone", "")
			}
			continue
		}
		if ct == nil {
			continue
		}
		said := ct.Clasps
		if ct.Word.set {
			said = ct.Word
		}
		if said.set {
			w[k].Clasps = conductors[said.s] // none is no conductor
			b.phases(said)
		}
		w[k].Reversed = ct.Orientation.s == "reversed"
		w[k].GainError, w[k].PhaseMinutes = ct.RatioError.v, ct.Displacement.v
	}
	return &w
}
