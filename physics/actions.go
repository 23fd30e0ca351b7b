package physics

// Action is something that happens to the plant at an instant. Apply is
// called between two steps; it never allocates more than once and never fails:
// what could fail is checked when a scenario is loaded.
type Action interface {
	Apply(p *Plant)
}

// SwitchLoad switches a load on or off.
type SwitchLoad struct {
	Load int
	On   bool
}

// SetLoad gives a load another power [W] and switches it on.
type SetLoad struct {
	Load   int
	PowerW float64
}

// PlugIn connects a vehicle to a charger.
type PlugIn struct {
	Charger  int
	CurrentA float64 // the most that the vehicle draws per conductor [A]
	EnergyWh float64 // what it wants before it stops by itself [Wh]; 0 means without end
}

// Unplug disconnects the vehicle.
type Unplug struct{ Charger int }

// PassCloud lets one cloud pass over all arrays.
type PassCloud struct {
	Depth       float64 // share of irradiance that it takes away [1], 0 to 1
	EdgeS       float64 // time over which each edge passes [s]
	LastsS      float64 // from the first edge's start to the last edge's end [s]
	Enhancement float64 // extra irradiance just before and after it, by reflection [1]
}

// BrokenClouds begins or ends a seeded process of passing clouds.
type BrokenClouds struct {
	On        bool
	MeanGapS  float64 // mean time between clouds [s]
	MeanLastS float64 // mean duration of a cloud [s]
	MinDepth  float64 // each cloud's depth is drawn between these [1]
	MaxDepth  float64
	EdgeS     float64 // time over which each edge passes [s]; the shortest, where MaxEdgeS is longer
	MaxEdgeS  float64 // each cloud's edge time is drawn up to this [s]; up to EdgeS means that all are alike
	// MaxEnhancement is the most that a cloud's bright side adds to the irradiance [1]; each cloud's is
	// drawn between 0 and this.
	MaxEnhancement float64
}

// MeterFault is what can befall a meter.
type MeterFault uint8

// The faults of a meter.
const (
	MeterSound    MeterFault = iota
	MeterFrozen              // goes on telling the last value
	MeterReversed            // the sign of the true flow is turned
)

// SetMeterFault makes a meter faulty, or sound again.
type SetMeterFault struct {
	Meter int
	Fault MeterFault
}

// Trip opens an inverter's contactor at once; it returns ReconnectS after
// LastsS has passed.
type Trip struct {
	Inverter int
	LastsS   float64
}

// SetSOC sets the true state of charge of an inverter's battery, as only a
// bench can.
type SetSOC struct {
	Inverter int
	SOC      float64
}

// Apply switches the load.
func (a SwitchLoad) Apply(p *Plant) { p.Loads[a.Load].switchTo(a.On) }

// Apply gives the load its power.
func (a SetLoad) Apply(p *Plant) {
	l := &p.Loads[a.Load]
	l.fullW = a.PowerW
	l.switchTo(true)
}

// Apply connects the vehicle.
func (a PlugIn) Apply(p *Plant) { p.Chargers[a.Charger].plugIn(a.CurrentA, a.EnergyWh) }

// Apply disconnects the vehicle.
func (a Unplug) Apply(p *Plant) { p.Chargers[a.Charger].unplug() }

// Apply sends the cloud.
func (a PassCloud) Apply(p *Plant) { p.sky.pass(p.TimeMS(), a) }

// Apply begins or ends the process.
func (a BrokenClouds) Apply(p *Plant) { p.sky.begin(p.TimeMS(), a) }

// Apply sets the meter's fault.
func (a SetMeterFault) Apply(p *Plant) { p.Meters[a.Meter].setFault(a.Fault) }

// Apply trips the inverter.
func (a Trip) Apply(p *Plant) {
	v := &p.Inverters[a.Inverter]
	v.Tripped = true
	v.tripEndTick = p.tick + int64(a.LastsS*1000)/p.site.StepMS + v.reconnectTicks
}

// Apply sets the state of charge; the audit books the energy as put in by hand.
func (a SetSOC) Apply(p *Plant) {
	b := &p.Inverters[a.Inverter].Battery
	before := b.StoredWh()
	b.set(a.SOC)
	p.audit.offset += b.StoredWh() - before
}

// Outage takes the grid away for a while; 0 means until GridReturns.
type Outage struct{ LastsS float64 }

// GridReturns ends an outage.
type GridReturns struct{}

// SetGridVoltage gives the supply another open-circuit voltage [V per phase].
type SetGridVoltage struct{ VoltageV float64 }

// SetGridFrequency gives the supply another frequency [Hz].
type SetGridFrequency struct{ FrequencyHz float64 }

// Apply takes the grid away.
func (a Outage) Apply(p *Plant) {
	p.gridAway()
	p.supply.backTick = 0
	if a.LastsS > 0 {
		p.supply.backTick = p.tick + int64(a.LastsS*1000)/p.site.StepMS
	}
}

// Apply gives the grid back.
func (GridReturns) Apply(p *Plant) { p.gridBack() }

// Apply sets the voltage.
func (a SetGridVoltage) Apply(p *Plant) { p.supply.setVoltage(a.VoltageV) }

// Apply sets the frequency.
func (a SetGridFrequency) Apply(p *Plant) { p.supply.Hz = a.FrequencyHz }
