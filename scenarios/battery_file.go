package scenarios

// The types of a battery in a site file; see site_file.go.

type batteryFile struct {
	At                  spot
	Capacity            quantity      `key:"capacity" dim:"energy" in:"> 0" doc:"usable energy from empty to full; absent means what its cells hold"`
	ChargeEfficiency    quantity      `key:"charge_efficiency" dim:"share" in:"1 % .. 100 %" or:"97 %" doc:"stored per energy at the terminals"`
	DischargeEfficiency quantity      `key:"discharge_efficiency" dim:"share" in:"1 % .. 100 %" or:"97 %" doc:"at the terminals per energy taken"`
	MaxCharge           quantity      `key:"max_charge" dim:"power" in:"> 0" doc:"largest charging power at the terminals; absent means the inverter's rating"`
	MaxDischarge        quantity      `key:"max_discharge" dim:"power" in:"> 0" doc:"largest discharging power at the terminals; absent means what the inverter takes at its rating"`
	SOC                 quantity      `key:"soc" dim:"share" in:"0 .. 100 %" or:"50 %" doc:"state of charge at the start"`
	Reserve             quantity      `key:"reserve" dim:"share" in:"0 .. 100 %" or:"10 %" doc:"it is not discharged below this"`
	TaperAbove          quantity      `key:"taper_above" dim:"share" in:"0 .. 100 %" or:"95 %" doc:"charging power falls from here to full; 100 % means no taper"`
	TaperBelow          quantity      `key:"taper_below" dim:"share" in:"0 .. 100 %" or:"3 %" doc:"discharging power falls within this much above the reserve; 0 % means no taper"`
	Standby             quantity      `key:"standby_loss" dim:"power" in:">= 0" or:"0 W" doc:"what its own electronics draw from the store"`
	Cell                *cellFile     `key:"cell" doc:"a pack of cells with open-circuit voltage and resistance, in place of efficiencies and tapers"`
	Thermal             *thermalFile  `key:"thermal" doc:"its temperature, and how that derates it"`
	Reported            *reportedFile `key:"reported" doc:"how the state of charge that it tells differs from the true one; absent means not at all"`
}

type cellFile struct {
	At           spot
	OpenCircuit  list[*ocvPointFile] `key:"open_circuit" must:"yes" doc:"open-circuit voltage of a cell over its state of charge, rising, linear between the points"`
	Capacity     quantity            `key:"capacity" dim:"charge" in:"> 0" must:"yes" doc:"charge of a cell from empty to full"`
	R0           quantity            `key:"r0" dim:"resistance" in:"> 0" must:"yes" doc:"series resistance of a cell"`
	R1           quantity            `key:"r1" dim:"resistance" in:">= 0" or:"0 ohm" doc:"resistance of the branch beside c1; 0 ohm means no branch"`
	C1           quantity            `key:"c1" dim:"capacitance" in:"> 0" doc:"its capacitance"`
	Max          quantity            `key:"max_voltage" dim:"voltage" in:"> 0" must:"yes" doc:"of a cell, which charging keeps under"`
	Min          quantity            `key:"min_voltage" dim:"voltage" in:">= 0" must:"yes" doc:"of a cell, which discharging keeps above"`
	MaxCharge    quantity            `key:"max_charge" dim:"current" in:"> 0" must:"yes" doc:"largest charging current of a cell"`
	MaxDischarge quantity            `key:"max_discharge" dim:"current" in:"> 0" must:"yes" doc:"largest discharging current of a cell"`
	Cutoff       quantity            `key:"cutoff" dim:"current" in:">= 0" or:"0 A" doc:"charging ends when the voltage limit leaves less than this"`
	Series       whole               `key:"series" in:"1..1000" or:"1" doc:"cells in series"`
	Parallel     whole               `key:"parallel" in:"1..1000" or:"1" doc:"strings in parallel"`
}

type ocvPointFile struct {
	At      spot
	SOC     quantity `key:"at" dim:"share" in:"0 .. 100 %" must:"yes" doc:"state of charge"`
	Voltage quantity `key:"voltage" dim:"voltage" in:"> 0" must:"yes" doc:"open-circuit voltage of a cell there"`
}

type thermalFile struct {
	At         spot
	Heat       quantity                 `key:"heat_capacity" dim:"heat" in:"> 0" must:"yes" doc:"of the whole battery"`
	Resistance quantity                 `key:"resistance" dim:"warming" in:"> 0" must:"yes" doc:"thermal resistance to the surroundings"`
	Ambient    quantity                 `key:"ambient" dim:"temperature" in:"-60 degC .. 80 degC" or:"20 degC" doc:"temperature of the surroundings"`
	Initial    quantity                 `key:"initial" dim:"temperature" in:"-60 degC .. 80 degC" doc:"its own at the start; absent means that of the surroundings"`
	Charge     list[*deratingPointFile] `key:"charge" doc:"share of the largest charging power over temperature; absent means all"`
	Discharge  list[*deratingPointFile] `key:"discharge" doc:"share of the largest discharging power over temperature; absent means all"`
}

type deratingPointFile struct {
	At    spot
	Temp  quantity `key:"at" dim:"temperature" in:"-100 degC .. 200 degC" must:"yes" doc:"the battery's temperature"`
	Share quantity `key:"share" dim:"share" in:"0 .. 100 %" must:"yes" doc:"what is left of the largest power there"`
}

type reportedFile struct {
	At         spot
	Resolution quantity `key:"resolution" dim:"share" in:"0 .. 50 %" or:"0 %" doc:"what is told is a multiple of this; 0 % means any"`
	Lag        quantity `key:"lag" dim:"time" in:">= 0" or:"0 s" doc:"time constant of what is shown"`
	GainError  quantity `key:"gain_error" dim:"share" in:"-50 % .. 50 %" or:"0 %" doc:"its counter counts so much more than each true change"`
	Error      quantity `key:"error" dim:"share" in:"-100 % .. 100 %" or:"0 %" doc:"told less true at the start"`
	High       quantity `key:"recalibrates_at_high" dim:"share" in:"0 .. 100 %" doc:"the counter is set right when the true state of charge rises to this; absent means never"`
	Low        quantity `key:"recalibrates_at_low" dim:"share" in:"0 .. 100 %" doc:"and when it falls to this; absent means never"`
}
