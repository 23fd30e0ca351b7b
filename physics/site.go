package physics

// Phases says to which line conductors a device or a meter is connected.
type Phases uint8

// A device on one line conductor of a three-phase site loads that conductor
// alone; a device on AllPhases shares its power equally among them. On a
// single-phase site every device is on L1.
const (
	AllPhases Phases = iota
	L1
	L2
	L3
)

// String gives the conductor's name as an electrician writes it.
func (p Phases) String() string {
	switch p {
	case L1:
		return "L1"
	case L2:
		return "L2"
	case L3:
		return "L3"
	}
	return "all"
}

// Site is the whole plant as data: what is wired where, and every parameter.
// It is dead once New has made a Plant of it.
type Site struct {
	StepMS int64  // length of one tick [ms], 10 to 1000
	Seed   uint64 // the one seed; every component draws from (Seed, its name)
	Phases int    // line conductors of the supply, 1 or 3

	Supply    Supply
	Feeders   []Feeder // a parent stands before its children; Feeders[0] is the supply itself
	Meters    []MeterParams
	Inverters []InverterParams
	Arrays    []ArrayParams
	Loads     []LoadParams
	Chargers  []ChargerParams

	// StartSecondOfDay is the local time of day at the start [s], for what people do by the clock.
	StartSecondOfDay int64

	Sky SkyParams
}

// Supply is the grid as seen from the inlet: a stiff source behind one series
// impedance per phase, and the main fuse.
type Supply struct {
	VoltageV      float64 // open-circuit phase voltage [V]
	FrequencyHz   float64 // [Hz]
	ResistanceOhm float64 // series resistance per phase [ohm]
	ReactanceOhm  float64 // series reactance per phase [ohm]
	NeutralOhm    float64 // series resistance of the neutral [ohm]
	NeutralXOhm   float64 // series reactance of the neutral [ohm]
	FuseA         float64 // rated current of the main fuse per phase [A]; 0 means none
	FuseMelts     bool    // the fuse melts and takes the supply away; else it is a figure only
	FusePosition  float64 // where it lies between the earliest (0) and the latest (1) gG link [1]
	ImportLimitW  float64 // what the site may import [W]; 0 means none was agreed
	ExportLimitW  float64 // what the site may export [W]; 0 means none was agreed
}

// Feeder is one node of the radial tree.
type Feeder struct {
	Name   string
	Parent int // index in Site.Feeders, smaller than its own; -1 for the supply
}

// MeterParams describes one meter: a current transformer on a feeder, the
// electronics behind it, and how late and how wrongly it tells.
//
// The reading is Orientation x ((1 + GainError) x P + OffsetW) + noise, where P is
// the power that flows into the feeder [W, import positive], sampled every
// RefreshS, told LatencyS later, and rounded to ResolutionW.
type MeterParams struct {
	Name        string
	Feeder      int     // the meter sees all that is downstream of this feeder's inlet
	Phases      Phases  // the conductors that it clasps
	Reversed    bool    // fitted the wrong way round: the sign of the true flow is turned
	RefreshS    float64 // sampling period [s], a multiple of the step
	PhaseS      float64 // the first sample is taken this long after the start [s], less than RefreshS
	LatencyS    float64 // delay from sample to publication [s], a multiple of the step
	OffsetW     float64 // constant error [W]
	GainError   float64 // relative error [1], e.g. 0.01 for +1 %
	NoiseW      float64 // standard deviation of the noise, drawn once a sample [W]
	ResolutionW float64 // rounding of the published value [W]; 0 means none

	// The finer model; what is zero is left out.
	CTs      *CTWiring   // how its transformers are fitted, where not simply right
	CTClass  *CTClass    // each transformer's ratio and displacement errors are drawn once within this class
	Class    *MeterClass // the meter's own gain error is drawn once within this class
	PerPhase bool        // its energy registers keep import and export of each phase apart
}

// InverterParams describes one battery inverter with its battery and its
// native loop.
type InverterParams struct {
	Name   string
	Feeder int
	Phases Phases

	RatingW      float64 // largest AC power in either direction [W]
	Efficiency   float64 // AC to DC and DC to AC conversion, each [1], in (0, 1]
	DeadTimeS    float64 // from a command to the first change of output [s], a multiple of the step
	RampUpWps    float64 // largest rise of the command that the output follows [W/s]; 0 means no limit
	RampDownWps  float64 // largest fall [W/s]; 0 means no limit
	LagS         float64 // time constant of the output's first-order lag [s]; 0 means none
	ReconnectS   float64 // wait after a trip before power flows again [s]
	CommandLifeS float64 // commands are forgotten this long after the last one [s]; 0 means never

	Battery BatteryParams
	Loop    LoopParams

	// The finer model; what is zero is left out.
	EfficiencyForm   EfficiencyForm
	Sandia           SandiaInverter  // of SandiaEfficiency
	InitialW         float64         // AC power at the start [W], charging positive; its loop goes on from there
	SelfConsumptionW float64         // drawn from the site while connected, besides the battery's power [W]
	StandbyW         float64         // drawn from the site while the contactor is open and the grid is there [W]
	ResolutionW      float64         // the output command is a multiple of this [W]
	MinimumW         float64         // a smaller command than this is carried out as none [W]
	ChangeoverS      float64         // rest at 0 W between charging and discharging [s], a multiple of the step
	Timed            []TimedMode     // its own timed windows, in ascending time
	Response         *ResponseParams // its answer to voltage and frequency
	Backup           *BackupParams   // it can form an island
}

// TimedMode is a window in which an inverter, unless it is commanded otherwise, charges or discharges
// with a power instead of following its loop.
type TimedMode struct {
	FromMS, ToMS int64   // since the start [ms]
	PowerW       float64 // AC power [W], charging positive
}

// BackupParams describe how an inverter carries a feeder when the grid is away.
type BackupParams struct {
	Feeder      int     // the feeder that it backs up, above or at its own; not the supply
	ChangeoverS float64 // from the grid's loss until it carries the feeder [s], a multiple of the step
	OverloadBy  float64 // it bears this much more than its rating for a while [1], e.g. 0.5 for 50 %
	OverloadS   float64 // for this long [s]; then, or beyond, it trips and the feeder is dark until the grid is back
}

// LoopParams describes the native loop of an inverter: a sampled integrator
// that drives its own meter's reading to a target.
type LoopParams struct {
	Meter     int     // index in Site.Meters of the meter that it follows; -1 means that it has none
	Gain      float64 // integral gain per sample [1]
	PeriodS   float64 // sampling period [s], a multiple of the step
	PhaseS    float64 // the first sample is taken this long after the start [s], less than PeriodS
	TargetW   float64 // reading that the loop aims at [W, import positive]
	DeadbandW float64 // readings this close to the target move nothing [W]
	Leak      float64 // share of its state that it forgets per sample [1]; 0 integrates, 1 is proportional only

	Form     LoopForm
	Deadband DeadbandKind
	Windup   bool // its state runs on beyond what it is allowed to do, to ten times the rating
}

// LoopForm says to what a native loop adds its correction.
type LoopForm uint8

// The forms, with e the reading less the target, k the gain, u the loop's state and y the actual output.
const (
	Integrating LoopForm = iota // u - k e
	FromActual                  // y - k e: behind a lag tau it acts as an integrator of gain k (1 - e^(-Ts/tau))
	FeedForward                 // u + k ((y - e) - u): it estimates the rest of the site and follows it
)

// DeadbandKind says what a native loop does with an error beyond its deadband D.
type DeadbandKind uint8

// The kinds.
const (
	WholeError DeadbandKind = iota // acts on all of the error
	Remainder                      // acts on what exceeds D, so that nothing jumps
	Hysteresis                     // once beyond D, acts on all of the error until it is under D/2
)

// BatteryParams describes a battery by its energy.
type BatteryParams struct {
	CapacityWh          float64 // usable energy between SOC 0 and SOC 1 [Wh]
	ChargeEfficiency    float64 // stored energy per energy at the terminals [1], in (0, 1]
	DischargeEfficiency float64 // energy at the terminals per energy taken from store [1], in (0, 1]
	MaxChargeW          float64 // largest charging power at the terminals [W]
	MaxDischargeW       float64 // largest discharging power at the terminals [W]
	InitialSOC          float64 // state of charge at the start [1], 0 to 1
	ReserveSOC          float64 // the inverter does not discharge below this [1]
	TaperAboveSOC       float64 // above this the charging power falls linearly [1]; 1 means no taper
	TaperBelowSOC       float64 // below this much above the reserve the discharging power falls linearly [1]; 0 means no taper

	// The finer model; what is zero is left out.
	Cell     *CellParams    // a Thevenin pack instead of the energy model; capacity, efficiencies and tapers above are then not used
	StandbyW float64        // drain of the store by the battery's own electronics [W]
	Thermal  *ThermalParams // its temperature, and how that derates it
	Report   *ReportParams  // how the state of charge that it tells differs from the true one
}

// ThermalParams describe a battery's temperature.
type ThermalParams struct {
	CapacityJpK   float64 // heat capacity [J/K]
	ResistanceKpW float64 // to the surroundings [K/W]
	AmbientC      float64 // of the surroundings [degC]
	InitialC      float64 // at the start [degC]
	Derating      Derating
}

// ArrayParams describes a PV array with its own inverter.
type ArrayParams struct {
	Name           string
	Feeder         int
	Phases         Phases
	PeakW          float64 // DC power at 1000 W/m2 and 25 degC cell temperature [W]
	RatingW        float64 // AC rating of its inverter [W]
	TiltDeg        float64 // from the horizontal [deg], 0 to 90
	AzimuthDeg     float64 // direction that it faces, clockwise from north [deg], 0 to 360
	LossFraction   float64 // soiling, wiring, conversion together [1], 0 to 1
	TempCoeffPerK  float64 // change of power per kelvin of cell temperature [1/K], usually negative
	AmbientTempC   float64 // air temperature [degC]
	NoctTempC      float64 // nominal operating cell temperature [degC]; 0 means cells at 25 degC
	GroundAlbedo   float64 // reflected share of the ground [1]
	StartSwitchedW float64 // DC power under which the inverter sleeps [W]
	// LowLight is what the cells fall short of at 200 W/m2, as a share of the peak [1]; 0 means nothing.
	LowLight float64
	// RatedEfficiency is the inverter's efficiency at its rating [1]: its losses then follow the
	// part-load curve of PVWattsAC. 0 means that they are in LossFraction.
	RatedEfficiency float64

	OnDC     bool            // its strings are on the DC side of Inverter, whose rating they share
	Inverter int             // index in Site.Inverters, if OnDC
	Response *ResponseParams // its inverter's answer to voltage and frequency
	Limit    *ExportLimit    // an export limitation that throttles it
}

// ExportLimit describes a limitation of export that throttles an array by a meter: a sampled
// integrator that keeps the meter's export under a limit.
type ExportLimit struct {
	Meter   int     // index in Site.Meters
	LimitW  float64 // export to keep under [W], >= 0
	PeriodS float64 // sampling period [s], a multiple of the step
	Gain    float64 // change of the throttle per excess and sample [1]
}

// LoadKind says how a load behaves in time.
type LoadKind uint8

// The kinds of load.
const (
	ConstantLoad   LoadKind = iota // draws PowerW while it is switched on
	ThermostatLoad                 // draws PowerW whenever its thermostat calls for heat
	MotorLoad                      // draws PowerW, and InrushFactor times it at the start
	ProfileLoad                    // follows Profile, linearly between its points
	BurstLoad                      // a heater that fires PowerW for a share of each period
	RandomLoad                     // appliances that come and go by a seeded process
)

// LoadParams describes one load.
type LoadParams struct {
	Name   string
	Feeder int
	Phases Phases
	Kind   LoadKind

	PowerW float64 // power while it draws [W]
	On     bool    // switched on at the start

	// Thermostat: a heated mass with first-order loss; temperature relative
	// to ambient, heated towards HeatedC and cooled towards 0 with TimeConstantS,
	// kept between CutInC and CutOutC.
	TimeConstantS float64 // [s]
	HeatedC       float64 // temperature rise that permanent heating would reach [K]
	CutInC        float64 // heat is switched on below this rise [K]
	CutOutC       float64 // heat is switched off above this rise [K]
	InitialC      float64 // temperature rise at the start [K]

	// Motor.
	InrushFactor float64 // power in the first instant, as a multiple of PowerW [1]
	InrushS      float64 // time constant with which the inrush decays [s]

	// Profile: points in ascending time; before the first and after the last
	// the nearest value holds.
	Profile []ProfilePoint

	// Burst-fired: on for Duty of each PeriodS.
	Duty    float64 // [1], 0 to 1
	PeriodS float64 // [s], a multiple of the step

	// Random: PowerW is the most that one use draws, a third of it the least; each use lasts and each gap is drawn from an
	// exponential distribution. HourShare thins the uses out over the day [1 per hour of the day]; all zero means 1 throughout.
	MeanOnS, MeanGapS float64
	HourShare         [24]float64

	PowerFactor float64 // of its power [1], lagging positive, leading negative; 0 means 1
}

// ProfilePoint is one point of a load's profile.
type ProfilePoint struct {
	AtMS   int64 // time since the start [ms]
	PowerW float64
}

// ChargerParams describes a charger for a vehicle.
type ChargerParams struct {
	Name       string
	Feeder     int
	Phases     Phases  // AllPhases on a three-phase site charges on three conductors
	MaxA       float64 // largest current that it offers per conductor [A]
	MinA       float64 // least current that can be offered; below it the session pauses [A] (6 A in IEC 61851-1)
	ResponseS  float64 // from a new offer to the vehicle's first change [s], a multiple of the step
	RampAps    float64 // rate at which the vehicle changes its current [A/s]; 0 means at once
	CommandedA float64 // offer at the start [A]

	// The finer model; what is zero is left out.
	Surplus *SurplusParams // it follows surplus by a meter of its own
	TaperWh float64        // the vehicle's current falls linearly over the last part of what it wants [Wh]
}

// SurplusParams describe a charger's own loop, which offers what the site would export.
type SurplusParams struct {
	Meter   int     // index in Site.Meters
	TargetW float64 // reading that it aims at [W, import positive]
	PeriodS float64 // sampling period [s], a multiple of the step
	Gain    float64 // share of the missing or spare power that it corrects per sample [1]
	HoldS   float64 // it pauses or resumes only when that has been due for this long [s]
}

// SkyParams describes sun and sky.
type SkyParams struct {
	LatitudeDeg  float64 // north positive [deg]
	LongitudeDeg float64 // east positive [deg]
	StartUnixS   int64   // the start of the run, seconds since 1970-01-01 UTC
	AltitudeM    float64 // above sea level [m]

	ClearSky       ClearSkyModel   // the sky without clouds, where Irradiance is empty
	LinkeTurbidity float64         // of IneichenPerez [1]; 0 means 3
	AerosolDepth   float64         // of SimplifiedSolis, optical depth at 700 nm [1]; 0 means 0.1
	WaterCM        float64         // of SimplifiedSolis, precipitable water [cm]; 0 means 1
	Diffuse        SkyDiffuseModel // from where diffuse light comes
	// Irradiance, if not empty, is the measured global horizontal irradiance and
	// replaces the clear sky. Between its points the value is linear.
	Irradiance []IrradiancePoint
}

// IrradiancePoint is one measured point of global horizontal irradiance.
type IrradiancePoint struct {
	AtMS int64   // time since the start [ms]
	GHI  float64 // global horizontal irradiance [W/m2]
}
