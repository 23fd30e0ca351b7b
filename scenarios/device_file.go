package scenarios

// The types of arrays, loads, chargers and tariff signals in a site file; see
// site_file.go.

type arrayFile struct {
	At          spot
	Phases      text            `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that it feeds"`
	Peak        quantity        `key:"peak" dim:"power" in:"> 0" must:"yes" doc:"DC power at 1000 W/m2 and 25 degC"`
	Rating      quantity        `key:"rating" dim:"power" in:"> 0" must:"yes" doc:"AC rating of its inverter"`
	Tilt        quantity        `key:"tilt" dim:"angle" in:"0 .. 90 deg" or:"30 deg" doc:"from the horizontal"`
	Azimuth     quantity        `key:"azimuth" dim:"angle" in:"0 .. 360 deg" or:"180 deg" doc:"clockwise from north"`
	Loss        quantity        `key:"loss" dim:"share" in:"0 .. 100 %" or:"10 %" doc:"soiling, wiring and conversion together"`
	Temperature quantity        `key:"temperature_coefficient" dim:"perkelvin" in:"-2 %/K .. 2 %/K" or:"-0.4 %/K" doc:"change of power with cell temperature"`
	LowLight    quantity        `key:"low_light_loss" dim:"share" in:"0 .. 5 %" or:"0 %" doc:"what the cells fall short of at 200 W/m2, as a share of the peak"`
	Efficiency  quantity        `key:"rated_efficiency" dim:"share" in:"50 % .. 100 %" doc:"of its inverter at the rating, with a part-load curve; absent means that it is in loss"`
	Ambient     quantity        `key:"ambient" dim:"temperature" in:"-60 degC .. 60 degC" or:"15 degC" doc:"air temperature"`
	Noct        quantity        `key:"noct" dim:"temperature" in:"0 .. 90 degC" or:"45 degC" doc:"nominal operating cell temperature; 0 degC means cells at 25 degC"`
	Albedo      quantity        `key:"albedo" dim:"share" in:"0 .. 100 %" or:"20 %" doc:"reflected share of the ground"`
	WakesAt     quantity        `key:"wakes_at" dim:"power" in:">= 0" or:"20 W" doc:"DC power under which its inverter sleeps"`
	OnDC        text            `key:"on_dc_of" form:"name" doc:"the battery inverter on whose DC side it is, and whose rating it shares; absent means an inverter of its own"`
	Answers     *answersFile    `key:"answers" doc:"how its inverter answers the supply's voltage and frequency; absent means not at all"`
	Limitation  *limitationFile `key:"export_limitation" doc:"a scheme that throttles it by a meter"`
}

type limitationFile struct {
	At      spot
	Follows text     `key:"follows" form:"name" must:"yes" doc:"the meter that it reads"`
	Limit   quantity `key:"limit" dim:"power" in:">= 0" must:"yes" doc:"export that it keeps under"`
	Period  quantity `key:"period" dim:"time" in:"1 ms .. 1 h" or:"1 s" doc:"sampling period"`
	Gain    quantity `key:"gain" dim:"number" in:"> 0" or:"0.5" doc:"change of the throttle per excess at each sample"`
}

type loadFile struct {
	At         spot
	Phases     text            `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that feed it"`
	Power      quantity        `key:"power" dim:"power" in:">= 0" doc:"what it draws while it draws"`
	Switch     text            `key:"switch" words:"on|off" or:"on" doc:"at the start"`
	Thermostat *thermostatFile `key:"thermostat" doc:"it draws whenever its thermostat calls for heat"`
	Motor      *motorFile      `key:"motor" doc:"it draws more in its first moments"`
	Burst      *burstFile      `key:"burst" doc:"a heater that fires for a share of each period"`
	Random     *randomFile     `key:"random" doc:"appliances that come and go by chance; power is the most that one use draws, and a third of it the least"`
	Profile    *profileFile    `key:"profile" doc:"its power over time, linear between the points"`
	Net        text            `key:"net" words:"yes|no" or:"no" doc:"its profile is a net load, such as a measured one with PV behind it, and may be negative"`
	Factor     quantity        `key:"power_factor" dim:"number" in:"-1 .. 1" doc:"of its power; a negative one leads; absent means 1"`
}

type burstFile struct {
	At     spot
	Duty   quantity `key:"duty" dim:"share" in:"0 .. 100 %" must:"yes" doc:"the share of each period that it is on"`
	Period quantity `key:"period" dim:"time" in:"> 0" must:"yes" doc:"length of a period"`
}

type randomFile struct {
	At    spot
	On    quantity       `key:"mean_use" dim:"time" in:"> 0" must:"yes" doc:"mean duration of a use"`
	Gap   quantity       `key:"mean_gap" dim:"time" in:"> 0" must:"yes" doc:"mean time between uses"`
	Hours list[quantity] `key:"hours" dim:"share" in:"0 .. 100 %" doc:"for each local hour from 0 to 23 the share of its uses that take place; absent means all"`
}

// profileFile is a profile in points, or the file that holds it.
type profileFile struct {
	At     spot
	File   text                    `key:"=" doc:"a CSV of measured power with the header time,power, relative to this file"`
	Points list[*profilePointFile] `key:"[]" doc:"its power at times since the start"`
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
	When  quantity `key:"at" dim:"time" must:"yes" doc:"since the start"`
	Power quantity `key:"power" dim:"power" must:"yes" doc:"what it draws then; negative, which feeds, only with net: yes"`
}

type chargerFile struct {
	At       spot
	Phases   text         `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that it charges on"`
	Max      quantity     `key:"max" dim:"current" in:"> 0" must:"yes" doc:"largest current per conductor that it offers"`
	Min      quantity     `key:"min" dim:"current" in:">= 0" or:"6 A" doc:"least current that can be offered; below it the session pauses"`
	Response quantity     `key:"response" dim:"time" in:"0 .. 60 s" or:"3 s" doc:"from a new offer to the vehicle's first change"`
	Ramp     quantity     `key:"ramp" dim:"currentramp" in:"> 0" doc:"rate at which the vehicle changes its current; absent means at once"`
	Offer    quantity     `key:"offer" dim:"current" in:">= 0" doc:"offer at the start; absent means the largest"`
	Surplus  *surplusFile `key:"surplus" doc:"a loop of its own, which offers what the site would export; absent means none"`
	Taper    quantity     `key:"taper" dim:"energy" in:">= 0" or:"0 Wh" doc:"the vehicle's current falls over the last part of what it wants"`
}

type surplusFile struct {
	At      spot
	Follows text     `key:"follows" form:"name" must:"yes" doc:"the meter that it reads"`
	Target  quantity `key:"target" dim:"power" or:"0 W" doc:"the reading that it aims at, import positive"`
	Period  quantity `key:"period" dim:"time" in:"1 ms .. 1 h" or:"5 s" doc:"sampling period"`
	Gain    quantity `key:"gain" dim:"number" in:"> 0" or:"0.5" doc:"share of the missing or spare power that it corrects at each sample"`
	Hold    quantity `key:"hold" dim:"time" in:">= 0" or:"60 s" doc:"it pauses or resumes only when that has been due for this long"`
}

type tariffFile struct {
	At spot
}
