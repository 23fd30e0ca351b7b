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
	FuseMelts   text                 `key:"fuse_melts" words:"yes|no" or:"no" doc:"the main fuse melts by a gG characteristic and takes the supply away; no means that it is a figure only"`
	FusePlace   quantity             `key:"fuse_position" dim:"share" in:"0 .. 100 %" or:"0 %" doc:"where its characteristic lies between the earliest and the latest that the standard allows"`
	Impedance   *impedanceFile       `key:"impedance" doc:"series impedance of the grid per phase"`
	Neutral     *impedanceFile       `key:"neutral" doc:"series impedance of the neutral conductor; absent means none"`
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
	Class       text      `key:"class" words:"class 0.5 S|class 1|class 2" doc:"accuracy class of the meter; a gain error is drawn once within its limits"`
	CTs         *ctsFile  `key:"transformers" doc:"how its current transformers are fitted; absent means rightly"`
	CTClass     text      `key:"transformer_class" words:"class 0.2|class 0.5|class 0.5 S|class 1|class 3|class 5" doc:"accuracy class of the transformers; ratio error and displacement of each are drawn once within its limits"`
	Registers   text      `key:"registers" words:"net|per phase" or:"net" doc:"its energy registers count the sum of the conductors, or import and export of each apart"`
	Wire        *wireFile `key:"wire" doc:"how it answers on Modbus; absent means that only its own inverter reads it"`
}

type ctsFile struct {
	At spot
	L1 *ctFile `key:"L1" doc:"the transformer of the input of voltage L1; absent means that it is fitted rightly"`
	L2 *ctFile `key:"L2" doc:"that of L2"`
	L3 *ctFile `key:"L3" doc:"that of L3"`
}

type ctFile struct {
	At           spot
	Word         text     `key:"=" words:"L1|L2|L3|none" doc:"the conductor that it clasps; none is a transformer that lies in the cabinet"`
	Clasps       text     `key:"clasps" words:"L1|L2|L3|none" doc:"the conductor that it clasps, or none; absent means that of its own voltage"`
	Orientation  text     `key:"orientation" words:"right|reversed" or:"right" doc:"reversed is fitted the wrong way round"`
	RatioError   quantity `key:"ratio_error" dim:"share" in:"-90 % .. 90 %" or:"0 %" doc:"relative error of the ratio"`
	Displacement quantity `key:"displacement" dim:"arc" in:"-5400 arcmin .. 5400 arcmin" or:"0 arcmin" doc:"phase displacement in minutes of arc; a leading secondary current is positive"`
}

type wireFile struct {
	At           spot
	Map          text     `key:"map" must:"yes" doc:"sunspec, a built-in declared map, or a map file relative to this one"`
	Unit         whole    `key:"unit" in:"1..247" or:"1" doc:"unit id"`
	Sign         text     `key:"sign" words:"charging positive|discharging positive|import positive|export positive" doc:"overrides the sign that the map states"`
	Base         whole    `key:"base" in:"0..65535" doc:"first register of a SunSpec chain, 40000 where absent"`
	ReplyTimeout quantity `key:"reply_timeout" dim:"time" in:"1 ms .. 60 s" or:"1 s" doc:"how long a client waits for an answer that does not come"`
	Refresh      quantity `key:"refresh" dim:"time" in:"1 ms .. 1 h" doc:"how often it takes a snapshot for its registers; absent means that they show each instant"`
	Clients      whole    `key:"clients" in:"1..64" doc:"how many clients it serves at once; one more is turned away at its first request"`
	Gap          quantity `key:"gap" dim:"time" in:"1 ms .. 60 s" doc:"shortest time from an answer to the next request; one that comes sooner is answered with exception 06"`
	Slow         quantity `key:"slow" dim:"time" in:"1 ms .. 60 s" doc:"time that each reply takes, less than reply_timeout; the values are those at its end"`
	Gateway      text     `key:"gateway" form:"name" doc:"name of the gateway behind whose address it answers; devices that name the same one share it by unit id"`
	RTULine      text     `key:"rtu_line" form:"name" doc:"name of the serial line on which it answers in RTU, a pseudo-terminal; devices that name the same one share it by unit id"`
	RTUOverTCP   text     `key:"rtu_over_tcp" form:"name" doc:"name of the line on which it answers in RTU over TCP; devices that name the same one share it by unit id"`
	Endurance    whole    `key:"endurance" in:"1..1000000000" doc:"writes that each register takes; later ones are answered with exception 04"`
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
