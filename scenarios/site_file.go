package scenarios

// The types of a site file. Their tags are the description of the format: the
// reader fills them, the writer shows them and the schema lists them. What a
// field means for the plant is said in physics/site.go, which has the same
// fields in base units.

type siteFile struct {
	At      spot
	Format  whole         `key:"format" in:"1..1" doc:"version of the file format, 1"`
	Site    text          `key:"site" form:"name" must:"yes" doc:"name of the site"`
	Title   text          `key:"title" doc:"what it is, in a few words"`
	BasedOn text          `key:"based_on" doc:"name of a built-in site, or a site file relative to this one, that this one varies"`
	Move    entries[text] `key:"move" doc:"devices, meters or feeders of the base, each with the feeder that it is moved to"`
	Place   *placeFile    `key:"place" doc:"where on earth it stands; the sun depends on it"`
	Air     *airFile      `key:"air" doc:"how the clear sky is worked out, and how clear it is"`
	Supply  *supplyFile   `key:"supply" doc:"the grid at the inlet, and all that is wired behind it"`
}

type placeFile struct {
	At        spot
	Latitude  quantity `key:"latitude" dim:"angle" in:"-90 deg .. 90 deg" must:"yes" doc:"north is positive"`
	Longitude quantity `key:"longitude" dim:"angle" in:"-180 deg .. 180 deg" must:"yes" doc:"east is positive"`
	Altitude  quantity `key:"altitude" dim:"height" in:"-500 m .. 9 km" or:"0 m" doc:"above sea level"`
}

type airFile struct {
	At        spot
	Model     text     `key:"clear_sky" words:"haurwitz|ineichen-perez|simplified-solis" or:"haurwitz" doc:"by elevation alone; by altitude and turbidity; by pressure, aerosol and water"`
	Turbidity quantity `key:"turbidity" dim:"number" in:"1 .. 20" doc:"Linke turbidity, for ineichen-perez; absent means 3"`
	Aerosol   quantity `key:"aerosol_depth" dim:"number" in:"0.001 .. 0.45" doc:"optical depth at 700 nm, for simplified-solis; absent means 0.1"`
	Water     quantity `key:"water" dim:"water" in:"0.1 mm .. 10 cm" doc:"precipitable water, for simplified-solis; absent means 1 cm"`
	Diffuse   text     `key:"diffuse" words:"liu-jordan|hay-davies" or:"liu-jordan" doc:"diffuse light equally from everywhere, or a part of it from around the sun"`
}

type supplyFile struct {
	At          spot
	Phases      whole                `key:"phases" in:"1..3" must:"yes" doc:"line conductors, 1 or 3"`
	Voltage     quantity             `key:"voltage" dim:"voltage" in:"> 0" or:"230 V" doc:"open-circuit phase voltage"`
	Frequency   quantity             `key:"frequency" dim:"frequency" in:"> 0" or:"50 Hz" doc:"frequency of the grid"`
	Fuse        quantity             `key:"fuse" dim:"current" in:"> 0" doc:"rated current of the main fuse per conductor; absent means none"`
	Impedance   *impedanceFile       `key:"impedance" doc:"series impedance of the grid per phase"`
	ImportLimit quantity             `key:"import_limit" dim:"power" in:"> 0" doc:"what the site may import; absent means none was agreed"`
	ExportLimit quantity             `key:"export_limit" dim:"power" in:"> 0" doc:"what the site may export; absent means none was agreed"`
	Meters      entries[meterFile]   `key:"meters" doc:"meters at the inlet"`
	Devices     entries[deviceFile]  `key:"devices" doc:"devices at the inlet"`
	Feeders     entries[*feederFile] `key:"feeders" doc:"feeders that leave the inlet"`
}

type impedanceFile struct {
	At         spot
	Resistance quantity `key:"resistance" dim:"resistance" in:">= 0" or:"0 ohm" doc:"series resistance"`
	Reactance  quantity `key:"reactance" dim:"resistance" in:">= 0" or:"0 ohm" doc:"series reactance"`
}

type feederFile struct {
	At      spot
	Meters  entries[meterFile]   `key:"meters" doc:"meters at the head of this feeder, which see all that is behind it"`
	Devices entries[deviceFile]  `key:"devices" doc:"devices on this feeder"`
	Feeders entries[*feederFile] `key:"feeders" doc:"feeders that leave this one"`
}

type meterFile struct {
	At          spot
	Phases      text      `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that it clasps"`
	Orientation text      `key:"orientation" words:"right|reversed" or:"right" doc:"reversed turns the sign of the true flow"`
	Refresh     quantity  `key:"refresh" dim:"time" in:"1 ms .. 1 h" must:"yes" doc:"sampling period; stale between"`
	Phase       quantity  `key:"phase" dim:"time" in:">= 0" or:"0 s" doc:"when the first sample is taken; less than the refresh"`
	Latency     quantity  `key:"latency" dim:"time" in:"0 .. 60 s" or:"0 s" doc:"from the sample to its publication"`
	Offset      quantity  `key:"offset" dim:"power" or:"0 W" doc:"constant error"`
	GainError   quantity  `key:"gain_error" dim:"share" in:"-90 % .. 90 %" or:"0 %" doc:"relative error"`
	Noise       quantity  `key:"noise" dim:"power" in:">= 0" or:"0 W" doc:"standard deviation, drawn once a sample"`
	Resolution  quantity  `key:"resolution" dim:"power" in:">= 0" or:"0 W" doc:"rounding of what is published; 0 W means none"`
	Wire        *wireFile `key:"wire" doc:"how it answers on Modbus; absent means that only its own inverter reads it"`
}

type wireFile struct {
	At           spot
	Map          text     `key:"map" must:"yes" doc:"sunspec, a built-in declared map, or a map file relative to this one"`
	Unit         whole    `key:"unit" in:"1..247" or:"1" doc:"unit id"`
	Sign         text     `key:"sign" words:"charging positive|discharging positive|import positive|export positive" doc:"overrides the sign that the map states"`
	Base         whole    `key:"base" in:"0..65535" doc:"first register of a SunSpec chain, 40000 where absent"`
	ReplyTimeout quantity `key:"reply_timeout" dim:"time" in:"1 ms .. 60 s" or:"1 s" doc:"how long a client waits for an answer that does not come"`
}

type deviceFile struct {
	At       spot
	Inverter *inverterFile `key:"inverter" doc:"a battery inverter"`
	Array    *arrayFile    `key:"array" doc:"a PV array with its own inverter"`
	Load     *loadFile     `key:"load" doc:"something that draws power"`
	Charger  *chargerFile  `key:"charger" doc:"a charger for a vehicle"`
	Tariff   *tariffFile   `key:"tariff" doc:"a contact that tells when energy is cheap"`
	Wire     *wireFile     `key:"wire" doc:"how it answers on Modbus; absent means that it does not"`
}

type inverterFile struct {
	At          spot
	Phases      text         `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that it feeds"`
	Rating      quantity     `key:"rating" dim:"power" in:"> 0" must:"yes" doc:"largest AC power in either direction"`
	Efficiency  quantity     `key:"efficiency" dim:"share" in:"1 % .. 100 %" or:"96 %" doc:"of the conversion, each way"`
	DeadTime    quantity     `key:"dead_time" dim:"time" in:"0 .. 60 s" or:"300 ms" doc:"from a command to the first change"`
	RampUp      quantity     `key:"ramp_up" dim:"ramp" in:"> 0" doc:"largest rise; absent means no limit"`
	RampDown    quantity     `key:"ramp_down" dim:"ramp" in:"> 0" doc:"largest fall; absent means no limit"`
	Lag         quantity     `key:"lag" dim:"time" in:"0 .. 60 s" or:"500 ms" doc:"time constant of the output"`
	Reconnect   quantity     `key:"reconnect" dim:"time" in:"0 .. 1 h" or:"60 s" doc:"wait after a trip"`
	CommandLife quantity     `key:"command_life" dim:"time" in:"> 0" doc:"commands are forgotten this long after the last one; absent means never"`
	Battery     *batteryFile `key:"battery" must:"yes" doc:"what stores its energy"`
	Loop        *loopFile    `key:"loop" doc:"its native loop; absent means that it only obeys"`
}

type batteryFile struct {
	At                  spot
	Capacity            quantity `key:"capacity" dim:"energy" in:"> 0" must:"yes" doc:"usable energy from empty to full"`
	ChargeEfficiency    quantity `key:"charge_efficiency" dim:"share" in:"1 % .. 100 %" or:"97 %" doc:"stored per energy at the terminals"`
	DischargeEfficiency quantity `key:"discharge_efficiency" dim:"share" in:"1 % .. 100 %" or:"97 %" doc:"at the terminals per energy taken"`
	MaxCharge           quantity `key:"max_charge" dim:"power" in:"> 0" doc:"largest charging power at the terminals; absent means the inverter's rating"`
	MaxDischarge        quantity `key:"max_discharge" dim:"power" in:"> 0" doc:"largest discharging power at the terminals; absent means what the inverter takes at its rating"`
	SOC                 quantity `key:"soc" dim:"share" in:"0 .. 100 %" or:"50 %" doc:"state of charge at the start"`
	Reserve             quantity `key:"reserve" dim:"share" in:"0 .. 100 %" or:"10 %" doc:"it is not discharged below this"`
	TaperAbove          quantity `key:"taper_above" dim:"share" in:"0 .. 100 %" or:"95 %" doc:"charging power falls from here to full; 100 % means no taper"`
	TaperBelow          quantity `key:"taper_below" dim:"share" in:"0 .. 100 %" or:"3 %" doc:"discharging power falls within this much above the reserve; 0 % means no taper"`
}

type loopFile struct {
	At       spot
	Follows  text     `key:"follows" form:"name" must:"yes" doc:"the meter that it reads"`
	Gain     quantity `key:"gain" dim:"number" in:"> 0" must:"yes" doc:"integral gain per sample"`
	Period   quantity `key:"period" dim:"time" in:"1 ms .. 1 h" or:"1 s" doc:"sampling period"`
	Phase    quantity `key:"phase" dim:"time" in:">= 0" or:"0 s" doc:"when the first sample is taken; less than the period"`
	Target   quantity `key:"target" dim:"power" or:"0 W" doc:"the reading that it aims at, import positive"`
	Deadband quantity `key:"deadband" dim:"power" in:">= 0" or:"0 W" doc:"readings this close to the target move nothing"`
	Leak     quantity `key:"leak" dim:"share" in:"0 .. 100 %" or:"0 %" doc:"what it forgets of its state at each sample; 100 % is proportional only"`
}

type arrayFile struct {
	At          spot
	Phases      text     `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that it feeds"`
	Peak        quantity `key:"peak" dim:"power" in:"> 0" must:"yes" doc:"DC power at 1000 W/m2 and 25 degC"`
	Rating      quantity `key:"rating" dim:"power" in:"> 0" must:"yes" doc:"AC rating of its inverter"`
	Tilt        quantity `key:"tilt" dim:"angle" in:"0 .. 90 deg" or:"30 deg" doc:"from the horizontal"`
	Azimuth     quantity `key:"azimuth" dim:"angle" in:"0 .. 360 deg" or:"180 deg" doc:"clockwise from north"`
	Loss        quantity `key:"loss" dim:"share" in:"0 .. 100 %" or:"10 %" doc:"soiling, wiring and conversion together"`
	Temperature quantity `key:"temperature_coefficient" dim:"perkelvin" in:"-2 %/K .. 2 %/K" or:"-0.4 %/K" doc:"change of power with cell temperature"`
	LowLight    quantity `key:"low_light_loss" dim:"share" in:"0 .. 5 %" or:"0 %" doc:"what the cells fall short of at 200 W/m2, as a share of the peak"`
	Efficiency  quantity `key:"rated_efficiency" dim:"share" in:"50 % .. 100 %" doc:"of its inverter at the rating, with a part-load curve; absent means that it is in loss"`
	Ambient     quantity `key:"ambient" dim:"temperature" in:"-60 degC .. 60 degC" or:"15 degC" doc:"air temperature"`
	Noct        quantity `key:"noct" dim:"temperature" in:"0 .. 90 degC" or:"45 degC" doc:"nominal operating cell temperature; 0 degC means cells at 25 degC"`
	Albedo      quantity `key:"albedo" dim:"share" in:"0 .. 100 %" or:"20 %" doc:"reflected share of the ground"`
	WakesAt     quantity `key:"wakes_at" dim:"power" in:">= 0" or:"20 W" doc:"DC power under which its inverter sleeps"`
}

type loadFile struct {
	At         spot
	Phases     text                    `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that feed it"`
	Power      quantity                `key:"power" dim:"power" in:">= 0" doc:"what it draws while it draws"`
	Switch     text                    `key:"switch" words:"on|off" or:"on" doc:"at the start"`
	Thermostat *thermostatFile         `key:"thermostat" doc:"it draws whenever its thermostat calls for heat"`
	Motor      *motorFile              `key:"motor" doc:"it draws more in its first moments"`
	Profile    list[*profilePointFile] `key:"profile" doc:"its power over time, linear between the points"`
}

type thermostatFile struct {
	At           spot
	TimeConstant quantity `key:"time_constant" dim:"time" in:"> 0" must:"yes" doc:"of the heated mass"`
	Heated       quantity `key:"heated" dim:"rise" in:"> 0" must:"yes" doc:"rise above ambient that permanent heating would reach"`
	CutIn        quantity `key:"cut_in" dim:"rise" in:">= 0" must:"yes" doc:"heat is switched on below this rise"`
	CutOut       quantity `key:"cut_out" dim:"rise" in:"> 0" must:"yes" doc:"heat is switched off above this rise"`
	Initial      quantity `key:"initial" dim:"rise" in:">= 0" or:"0 K" doc:"rise at the start"`
}

type motorFile struct {
	At     spot
	Inrush quantity `key:"inrush" dim:"number" in:"1 .. 20" must:"yes" doc:"power in the first instant, as a multiple"`
	Decay  quantity `key:"decay" dim:"time" in:"> 0" must:"yes" doc:"time constant of the inrush"`
}

type profilePointFile struct {
	At    spot
	When  quantity `key:"at" dim:"time" in:">= 0" must:"yes" doc:"since the start"`
	Power quantity `key:"power" dim:"power" in:">= 0" must:"yes" doc:"what it draws then"`
}

type chargerFile struct {
	At       spot
	Phases   text     `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that it charges on"`
	Max      quantity `key:"max" dim:"current" in:"> 0" must:"yes" doc:"largest current per conductor that it offers"`
	Min      quantity `key:"min" dim:"current" in:">= 0" or:"6 A" doc:"least current that can be offered; below it the session pauses"`
	Response quantity `key:"response" dim:"time" in:"0 .. 60 s" or:"3 s" doc:"from a new offer to the vehicle's first change"`
	Ramp     quantity `key:"ramp" dim:"currentramp" in:"> 0" doc:"rate at which the vehicle changes its current; absent means at once"`
	Offer    quantity `key:"offer" dim:"current" in:">= 0" doc:"offer at the start; absent means the largest"`
}

type tariffFile struct {
	At spot
}
