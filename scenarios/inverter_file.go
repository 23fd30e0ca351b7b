package scenarios

// The types of an inverter in a site file; see site_file.go.

type inverterFile struct {
	At          spot
	Phases      text             `key:"phases" words:"all|L1|L2|L3" or:"all" doc:"the conductors that it feeds"`
	Rating      quantity         `key:"rating" dim:"power" in:"> 0" must:"yes" doc:"largest AC power in either direction"`
	Efficiency  quantity         `key:"efficiency" dim:"share" in:"1 % .. 100 %" or:"96 %" doc:"of the conversion, each way"`
	DeadTime    quantity         `key:"dead_time" dim:"time" in:"0 .. 60 s" or:"300 ms" doc:"from a command to the first change"`
	RampUp      quantity         `key:"ramp_up" dim:"ramp" in:"> 0" doc:"largest rise; absent means no limit"`
	RampDown    quantity         `key:"ramp_down" dim:"ramp" in:"> 0" doc:"largest fall; absent means no limit"`
	Lag         quantity         `key:"lag" dim:"time" in:"0 .. 60 s" or:"500 ms" doc:"time constant of the output"`
	Reconnect   quantity         `key:"reconnect" dim:"time" in:"0 .. 1 h" or:"60 s" doc:"wait after a trip"`
	CommandLife quantity         `key:"command_life" dim:"time" in:"> 0" doc:"commands are forgotten this long after the last one; absent means never"`
	Initial     quantity         `key:"starts_with" dim:"power" or:"0 W" doc:"AC power at the start, charging positive; its loop goes on from there"`
	Form        text             `key:"efficiency_form" words:"constant|part load" or:"constant" doc:"efficiency at every load, or the part-load curve of the PVWatts manual through it at the rating"`
	Sandia      *sandiaFile      `key:"sandia" doc:"its conversion by the Sandia model, in place of the efficiency"`
	Own         quantity         `key:"own_consumption" dim:"power" in:">= 0" or:"0 W" doc:"drawn from the site while connected, besides the battery's power"`
	Standby     quantity         `key:"standby_consumption" dim:"power" in:">= 0" or:"0 W" doc:"drawn from the site while its contactor is open"`
	Resolution  quantity         `key:"resolution" dim:"power" in:">= 0" or:"0 W" doc:"its command is a multiple of this; 0 W means any"`
	Smallest    quantity         `key:"smallest_power" dim:"power" in:">= 0" or:"0 W" doc:"a smaller command is carried out as none"`
	Changeover  quantity         `key:"changeover" dim:"time" in:"0 .. 60 s" or:"0 s" doc:"rest between charging and discharging"`
	Timed       list[*timedFile] `key:"timed" doc:"its own windows, in which it charges or discharges instead of following its loop, unless it is commanded"`
	Answers     *answersFile     `key:"answers" doc:"how it answers the supply's voltage and frequency; absent means not at all"`
	Backup      *backupFile      `key:"backup" doc:"it carries a feeder while the grid is away"`
	Battery     *batteryFile     `key:"battery" must:"yes" doc:"what stores its energy"`
	Loop        *loopFile        `key:"loop" doc:"its native loop; absent means that it only obeys"`
}

type sandiaFile struct {
	At      spot
	RatedAC quantity `key:"rated_ac" dim:"power" in:"> 0" must:"yes" doc:"AC rating"`
	RatedDC quantity `key:"rated_dc" dim:"power" in:"> 0" must:"yes" doc:"DC power at which it is reached"`
	RatedV  quantity `key:"rated_voltage" dim:"voltage" in:"> 0" must:"yes" doc:"DC voltage of the rating"`
	Start   quantity `key:"starts_at" dim:"power" in:">= 0" must:"yes" doc:"DC power at which it starts"`
	C0      quantity `key:"c0" dim:"perwatt" or:"0 1/W" doc:"curvature of AC over DC power"`
	C1      quantity `key:"c1" dim:"pervolt" or:"0 1/V" doc:"change of rated_dc with voltage"`
	C2      quantity `key:"c2" dim:"pervolt" or:"0 1/V" doc:"change of starts_at with voltage"`
	C3      quantity `key:"c3" dim:"pervolt" or:"0 1/V" doc:"change of c0 with voltage"`
	Night   quantity `key:"night" dim:"power" in:">= 0" or:"0 W" doc:"AC power that it draws when it sleeps"`
}

type timedFile struct {
	At        spot
	From      text     `key:"from" must:"yes" doc:"local clock time like 02:00, each day, or a time since the start like 30 min"`
	To        text     `key:"to" must:"yes" doc:"the end, written in the same way"`
	Charge    quantity `key:"charge" dim:"power" in:">= 0" doc:"AC power that it charges with"`
	Discharge quantity `key:"discharge" dim:"power" in:">= 0" doc:"AC power that it discharges with"`
}

type backupFile struct {
	At         spot
	Feeder     text     `key:"feeder" form:"name" must:"yes" doc:"the feeder that it carries: its own, or one above it"`
	Changeover quantity `key:"changeover" dim:"time" in:"0 .. 1 h" or:"1 s" doc:"from the grid's loss until it carries the feeder"`
	Overload   quantity `key:"overload" dim:"share" in:"0 .. 500 %" or:"0 %" doc:"what it bears beyond its rating for a while"`
	Bears      quantity `key:"overload_time" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"for how long; then it trips, and its feeder is dark until the grid is back"`
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
	Form     text     `key:"form" words:"integrating|from actual|feed forward" or:"integrating" doc:"what it adds its correction to: its own last command, its actual output, or its estimate of the rest of the site"`
	Beyond   text     `key:"beyond_deadband" words:"whole error|remainder|hysteresis" or:"whole error" doc:"it acts on the whole error, on what exceeds the deadband, or on the whole error until that is under half the deadband"`
	Windup   text     `key:"windup" words:"yes|no" or:"no" doc:"its state runs on beyond what it may do, to ten times the rating"`
}
