package scenarios

// The types of a scenario file; see site_file.go.

type scenarioFile struct {
	At           spot
	Format       whole            `key:"format" in:"1..1" doc:"version of the file format, 1"`
	Name         text             `key:"name" form:"name" doc:"short name; absent means the file's, without its extension"`
	Scenario     text             `key:"scenario" must:"yes" doc:"its title"`
	Story        text             `key:"story" doc:"why it is told, and where its limits come from"`
	Site         siteRefFile      `key:"site" must:"yes" doc:"name of a built-in site, a site file relative to this one, or a site written out"`
	Starts       text             `key:"starts" must:"yes" doc:"local date and time, like 2026-06-18 10:30"`
	Zone         text             `key:"zone" or:"UTC" doc:"IANA time zone, like Europe/Oslo"`
	Lasts        quantity         `key:"lasts" dim:"time" in:"> 0" must:"yes" doc:"length of the run"`
	Seed         whole            `key:"seed" or:"1" doc:"the one seed of all that is drawn"`
	Step         quantity         `key:"step" dim:"time" in:"10 ms .. 1 s" or:"100 ms" doc:"length of one step"`
	Commands     list[text]       `key:"commands" form:"name" doc:"devices that the controller may command; absent means every inverter on the wire"`
	ImportWanted list[text]       `key:"import_wanted" doc:"windows in which charging from the grid is intended, like 02:00 to 05:00"`
	ExportWanted list[text]       `key:"export_wanted" doc:"windows in which feeding the grid is intended"`
	Cheap        list[text]       `key:"cheap" doc:"windows in which the tariff signal says that energy is cheap"`
	Prices       list[*priceFile] `key:"prices" doc:"what energy from the grid costs, by windows one after the other"`
	Sky          *skyFile         `key:"sky" doc:"a measured sky in place of the clear one"`
	Happens      list[*eventFile] `key:"happens" doc:"what happens, in any order"`
	Must         *mustFile        `key:"must" doc:"what must hold"`
}

// siteRefFile is a site by name or written out.
type siteRefFile struct {
	At     spot
	Named  text        `key:"=" doc:"name of a built-in site, or a site file relative to this one"`
	Format whole       `key:"format" in:"1..1" doc:"version of the file format, 1"`
	Site   text        `key:"site" form:"name" must:"yes" doc:"name of the site"`
	Title  text        `key:"title" doc:"what it is, in a few words"`
	Place  *placeFile  `key:"place" doc:"where on earth it stands; the sun depends on it"`
	Air    *airFile    `key:"air" doc:"how the clear sky is worked out, and how clear it is"`
	Supply *supplyFile `key:"supply" must:"yes" doc:"the grid at the inlet, and all that is wired behind it"`
}

type priceFile struct {
	At    spot
	From  text     `key:"from" must:"yes" doc:"local clock time like 06:00, each day, or a time since the start like 30 min"`
	To    text     `key:"to" must:"yes" doc:"the end, written in the same way"`
	Price quantity `key:"price" dim:"number" must:"yes" doc:"of a kWh, in the tariff's own money; may be negative"`
}

type skyFile struct {
	At       spot
	File     text                `key:"file" doc:"a CSV of measured irradiance, relative to this file"`
	Measured list[*skyPointFile] `key:"measured" doc:"global horizontal irradiance, linear between the points"`
}

type skyPointFile struct {
	At   spot
	When quantity `key:"at" dim:"time" must:"yes" doc:"since the start"`
	GHI  quantity `key:"ghi" dim:"irradiance" in:"0 .. 2000 W/m2" must:"yes" doc:"global horizontal irradiance"`
}

type eventFile struct {
	At       spot
	When     text              `key:"at" must:"yes" doc:"time since the start, like 5 min, or local clock time, like 02:30"`
	Disturbs text              `key:"disturbs" words:"yes|no" doc:"whether the settling of grid flow is judged after it"`
	Text     text              `key:"text" doc:"what people are told"`
	What     entries[whatFile] `key:"*" doc:"a device's name, sky, supply or controller, and what happens to it"`
}

type whatFile struct {
	At        spot
	Word      text        `key:"=" words:"unplug|clear|outage|returns|kill|start|pause|continue|second_copy|copy_ends" form:"verb" doc:"unplug a vehicle; clear the sky of broken clouds; the supply goes away, or returns; the controller is killed, started, paused or continued, or a second copy of it begins or ends"`
	Switch    text        `key:"switch" words:"on|off" doc:"a load is switched"`
	Power     quantity    `key:"power" dim:"power" in:">= 0" doc:"a load takes another power and is switched on"`
	PlugIn    quantity    `key:"plug_in" dim:"current" in:"> 0" doc:"a vehicle that draws at most this per conductor is plugged in"`
	Energy    quantity    `key:"energy" dim:"energy" in:"> 0" doc:"what the vehicle takes before it stops; absent means without end"`
	Cloud     *cloudFile  `key:"cloud" doc:"one cloud passes"`
	Broken    *brokenFile `key:"broken_clouds" doc:"clouds come and go from now on"`
	Fault     text        `key:"fault" words:"frozen|reversed|silent|slow|jittery|refuses|resets|busy|stale|garbage|wrong_transaction|wrong_unit|wrong_count|half_reply|dripping|hangs_up|none" doc:"a meter is frozen or reversed, or sound again (none); the link of a device on the wire is silent, answers late by the delay or by up to it, refuses or resets connections or closes new ones, answers exception 06, shows old values, is frozen, delivers garbage, or spoils its replies: wrong transaction, unit or count, half of it, or byte by byte"`
	Lasts     quantity    `key:"lasts" dim:"time" in:"> 0" doc:"how long the fault lasts; absent means to the end"`
	Delay     quantity    `key:"delay" dim:"time" in:"1 ms .. 60 s" doc:"how much later a slow link answers, or a jittery one at most"`
	Trip      quantity    `key:"trip" dim:"time" in:">= 0" doc:"an inverter trips for this long"`
	SOC       quantity    `key:"soc" dim:"share" in:"0 .. 100 %" doc:"a battery's true state of charge jumps"`
	Told      quantity    `key:"told_soc" dim:"share" in:"-100 % .. 100 %" doc:"the state of charge that a battery tells jumps by this, as on a recalibration"`
	Outage    quantity    `key:"outage" dim:"time" in:"> 0" doc:"the supply goes away for this long"`
	Voltage   quantity    `key:"voltage" dim:"voltage" in:"> 0" doc:"the supply takes another open-circuit phase voltage"`
	Frequency quantity    `key:"frequency" dim:"frequency" in:"> 0" doc:"the supply takes another frequency"`
	Kill      quantity    `key:"kill" dim:"time" in:"> 0" doc:"the controller is killed, and started again after this long"`
	Pause     quantity    `key:"pause" dim:"time" in:"> 0" doc:"the controller is stopped for this long, and then goes on as if nothing had been"`
	Copy      quantity    `key:"second_copy" dim:"time" in:"> 0" doc:"a second copy of the controller runs beside it for this long"`
	Clock     quantity    `key:"clock" dim:"time" doc:"the date and time of day that the bench clock tells jump by this, back where it is negative"`
}

type cloudFile struct {
	At          spot
	Depth       quantity `key:"depth" dim:"share" in:"0 .. 100 %" must:"yes" doc:"share of irradiance that it takes away"`
	Edge        quantity `key:"edge" dim:"time" in:"> 0" or:"5 s" doc:"time over which each edge passes"`
	Lasts       quantity `key:"lasts" dim:"time" in:"> 0" must:"yes" doc:"from the first edge's start to the last edge's end"`
	Enhancement quantity `key:"enhancement" dim:"share" in:"0 .. 50 %" or:"0 %" doc:"extra irradiance just before and after it"`
}

type brokenFile struct {
	At          spot
	Word        text     `key:"=" words:"field clouds" doc:"clouds whose ramps are like those measured in the field"`
	Gap         quantity `key:"gap" dim:"time" in:"> 0" must:"yes" doc:"mean time between clouds"`
	Lasts       quantity `key:"lasts" dim:"time" in:"> 0" must:"yes" doc:"mean duration of a cloud"`
	Depth       span     `key:"depth" dim:"share" in:"0 .. 100 %" must:"yes" doc:"each cloud takes away a share between these, like 40 % to 80 %"`
	Edge        span     `key:"edge" dim:"time" in:"> 0" or:"5 s" doc:"time over which each edge passes, or two between which it is drawn, like 2 s to 20 s"`
	Enhancement quantity `key:"enhancement" dim:"share" in:"0 .. 50 %" or:"0 %" doc:"the most that a cloud's bright side adds"`
}
