package scenarios

// The types of what must hold in a scenario file; see site_file.go.

// mustAloneFile is a file of limits without a story.
type mustAloneFile struct {
	At     spot
	Format whole     `key:"format" in:"1..1" doc:"version of the file format, 1"`
	Must   *mustFile `key:"must" must:"yes" doc:"what must hold"`
}

type mustFile struct {
	At              spot
	Import          *flowFile           `key:"import" doc:"grid import"`
	Export          *flowFile           `key:"export" doc:"grid export"`
	Settle          *settleFile         `key:"settle" doc:"after each disturbance grid flow comes to rest"`
	Hunting         *huntingFile        `key:"hunting" doc:"oscillation that the batteries add"`
	Circulating     *circulatingFile    `key:"circulating" doc:"one battery charging another"`
	SOCSpread       *spreadFile         `key:"soc_spread" doc:"distance between states of charge"`
	Reserve         *reserveFile        `key:"reserve" doc:"batteries keep their reserve while there is a supply"`
	SupplyCurrent   *supplyCurrentFile  `key:"supply_current" doc:"current of each phase of the supply"`
	FuseHeating     *fuseHeatingFile    `key:"fuse_heating" doc:"how hot the main fuse gets, a gG fuse from 16 A to 100 A"`
	Schedule        *scheduleFile       `key:"schedule" doc:"batteries are charged by the end of a window, as far as they could be"`
	AvoidableImport *avoidableFile      `key:"avoidable_import" doc:"import that discharging could have covered"`
	AvoidableExport *avoidableFile      `key:"avoidable_export" doc:"export that charging could have taken up"`
	Wear            *wearFile           `key:"wear" doc:"what batteries and inverters go through"`
	CommandEconomy  *commandEconomyFile `key:"command_economy" doc:"how much the controller writes"`
	WireManners     *wireMannersFile    `key:"wire_manners" doc:"what the controller does on the wire that it should not"`
	FailSafe        *failSafeFile       `key:"fail_safe" doc:"the batteries are safe while the controller is gone, or a link is lost"`
	Recovery        *recoveryFile       `key:"recovery" doc:"grid flow is under control again after the controller came back"`
	Reversion       *reversionFile      `key:"reversion" doc:"limits written with a time end when it is over"`

	Formula entries[formulaFile] `key:"formula" doc:"sentences of temporal logic, each under a name of its own"`
}

type formulaFile struct {
	At       spot
	Sentence text `key:"=" doc:"a sentence, like always (grid > 18 kW implies eventually within 20 s grid <= 18 kW)"`
}

type flowFile struct {
	At     spot
	Below  quantity `key:"below" dim:"power" in:"> 0" must:"yes" doc:"the limit"`
	Except quantity `key:"except" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"how long at a time it may be exceeded"`
	Energy quantity `key:"energy" dim:"energy" in:">= 0" doc:"what may flow beyond it over the whole run; absent means not judged"`
}

type settleFile struct {
	At        spot
	Band      quantity `key:"band" dim:"power" in:"> 0" must:"yes" doc:"how far from what is achievable still counts as settled"`
	Within    quantity `key:"within" dim:"time" in:"10 ms .. 1 h" must:"yes" doc:"time from the disturbance"`
	Overshoot quantity `key:"overshoot" dim:"power" in:">= 0" doc:"how far grid flow may then go beyond what is achievable; absent means not judged"`
}

type huntingFile struct {
	At         spot
	Below      quantity `key:"below" dim:"power" in:"> 0" must:"yes" doc:"amplitude that is tolerated"`
	GoneWithin quantity `key:"gone_within" dim:"time" in:"10 ms .. 1 h" must:"yes" doc:"time in which a larger one has died out"`
}

type circulatingFile struct {
	At      spot
	Below   quantity `key:"below" dim:"power" in:"> 0" must:"yes" doc:"the limit"`
	Except  quantity `key:"except" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"how long at a time it may be exceeded"`
	Episode quantity `key:"episode" dim:"time" in:">= 0" doc:"how long an episode above it may be, gaps of up to 30 s included; absent means not judged"`
	Energy  quantity `key:"energy" dim:"energy" in:">= 0" doc:"what may circulate over the whole run; absent means not judged"`
}

type spreadFile struct {
	At    spot
	Below quantity `key:"below" dim:"share" in:"0 .. 100 %" must:"yes" doc:"the limit"`
	From  quantity `key:"from" dim:"time" in:">= 0" or:"0 s" doc:"judged from this time on"`
}

type reserveFile struct {
	At     spot
	Below  quantity `key:"below" dim:"share" in:"0 .. 100 %" or:"0 %" doc:"how far under its reserve a battery may be discharged"`
	Except quantity `key:"except" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"how long a deeper discharge may last"`
}

type supplyCurrentFile struct {
	At     spot
	Below  quantity `key:"below" dim:"current" in:"> 0" doc:"the limit; absent means the main fuse's rating"`
	Except quantity `key:"except" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"how long at a time it may be exceeded"`
}

type fuseHeatingFile struct {
	At    spot
	Below quantity `key:"below" dim:"share" in:"1 % .. 100 %" must:"yes" doc:"share of the heat that may melt it"`
}

type scheduleFile struct {
	At          spot
	Target      quantity `key:"target" dim:"share" in:"1 % .. 100 %" must:"yes" doc:"state of charge at the end of the window"`
	Missing     quantity `key:"missing" dim:"share" in:"0 .. 100 %" or:"0 %" doc:"how much may be missing of the target, or of what could be had"`
	During      text     `key:"during" doc:"the window, like 02:00 to 05:00; absent means each window under cheap"`
	ImportBelow quantity `key:"import_below" dim:"power" in:"> 0" doc:"import that charging must leave alone; absent means the supply's import_limit, if it has one"`
	Efficiency  quantity `key:"efficiency" dim:"share" in:"1 % .. 100 %" doc:"share of AC energy that arrives in a battery; absent means that of the site's worst"`
}

type avoidableFile struct {
	At    spot
	Below quantity `key:"below" dim:"energy" in:">= 0" must:"yes" doc:"the limit, over the whole run"`
}

type wearFile struct {
	At        spot
	Cycles    quantity `key:"cycles" dim:"perday" in:">= 0" doc:"equivalent full cycles of each battery in any 24 h"`
	Reversals quantity `key:"reversals" dim:"perhour" in:">= 0" doc:"changes of each battery between charging and discharging in any hour"`
	ModeFlips quantity `key:"mode_flips" dim:"perhour" in:">= 0" doc:"changes of each inverter's mode in any hour"`
}

type commandEconomyFile struct {
	At     spot
	Writes quantity `key:"writes" dim:"perhour" in:">= 0" doc:"requests to write to each device in any hour"`
	Gap    quantity `key:"gap" dim:"time" in:"1 ms .. 1 h" doc:"the least time between two writes to one register"`
}

type wireMannersFile struct {
	At         spot
	Exceptions whole    `key:"exceptions" in:"0..1000000000" or:"0" doc:"exception replies that are tolerated; those of a fault that the scenario makes do not count"`
	Illegal    whole    `key:"illegal" in:"0..1000000000" or:"0" doc:"tolerated writes to what may not be written, or out of range"`
	Forbidden  whole    `key:"forbidden" in:"0..1000000000" or:"0" doc:"tolerated writes to devices that the controller may not command"`
	Reads      quantity `key:"reads" dim:"persecond" in:"> 0" doc:"requests to read from each device, like 5 /s; absent means not judged"`
	Over       quantity `key:"over" dim:"time" in:"1 s .. 1 h" or:"10 s" doc:"time over which the rate of reads is taken"`
}

type failSafeFile struct {
	At     spot
	Below  quantity `key:"below" dim:"power" in:">= 0" must:"yes" doc:"battery power, in either direction, that is safe"`
	Within quantity `key:"within" dim:"time" in:"10 ms .. 1 h" must:"yes" doc:"time from the loss"`
	Native text     `key:"native_is_safe" words:"yes|narrowed|no" or:"yes" doc:"an inverter whose own loop runs is safe whatever its power: yes under no limit, narrowed also under limits that force no power"`
}

type recoveryFile struct {
	At     spot
	Band   quantity `key:"band" dim:"power" in:"> 0" must:"yes" doc:"how far from what is achievable still counts as under control"`
	Within quantity `key:"within" dim:"time" in:"10 ms .. 1 h" must:"yes" doc:"time from the controller's return"`
	Hold   quantity `key:"hold" dim:"time" in:"0 .. 1 h" or:"10 s" doc:"how long grid flow must then stay there"`
}

type reversionFile struct {
	At      spot
	Within  quantity `key:"within" dim:"time" in:"10 ms .. 1 h" must:"yes" doc:"how much earlier or later a limit may end"`
	Untimed whole    `key:"untimed" in:"0..1000000000" doc:"limits that may be set until further notice on a device that could be told for how long; absent means not judged"`
}
