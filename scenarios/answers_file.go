package scenarios

// The types of a device's answers to the supply; see site_file.go. Named curves
// and tables are defaults that the named documents print, some of them from
// memory (physics/gridcode.go, gridtrip.go): a point to start from, and no claim
// that a device conforms.

type answersFile struct {
	At           spot
	VoltWatt     *voltWattFile   `key:"volt_watt" doc:"largest injection over voltage; absent means no limit"`
	VoltVar      *voltVarFile    `key:"volt_var" doc:"reactive power over voltage; absent means none"`
	Frequency    *frequencyFile  `key:"frequency" doc:"change of power with frequency; absent means none"`
	Protection   *protectionFile `key:"protection" doc:"interface protection; absent means none"`
	Reconnection *reconnectFile  `key:"reconnection" doc:"when it connects again after a trip or an outage; absent means at once"`
}

type voltWattFile struct {
	At       spot
	Word     text                 `key:"=" words:"ieee 1547|as-nzs 4777.2 a" doc:"a published default"`
	Points   list[*voltWattPoint] `key:"[]" doc:"points of rising voltage"`
	Curve    *voltWattCurve       `key:"curve" doc:"a published default, or points, linear between them"`
	Response quantity             `key:"response" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"open-loop response time: until 90 % of a change is made"`
}

type voltWattCurve struct {
	At     spot
	Word   text                 `key:"=" words:"ieee 1547|as-nzs 4777.2 a" doc:"a published default"`
	Points list[*voltWattPoint] `key:"[]" doc:"points of rising voltage"`
}

type voltWattPoint struct {
	At        spot
	Voltage   quantity `key:"voltage" dim:"voltage" in:"> 0" doc:"phase voltage; this or of_nominal"`
	OfNominal quantity `key:"of_nominal" dim:"share" in:"> 0" doc:"the same as a share of the supply's nominal voltage"`
	Power     quantity `key:"power" dim:"share" in:"0 .. 100 %" must:"yes" doc:"largest injection as a share of the rating"`
}

type voltVarFile struct {
	At       spot
	Word     text                `key:"=" words:"ieee 1547 a|ieee 1547 b|as-nzs 4777.2 a" doc:"a published default"`
	Points   list[*voltVarPoint] `key:"[]" doc:"points of rising voltage"`
	Curve    *voltVarCurve       `key:"curve" doc:"a published default, or points, linear between them"`
	Response quantity            `key:"response" dim:"time" in:"0 .. 1 h" doc:"open-loop response time: until 90 % of a change is made; absent means that of the published default, or else at once"`
}

type voltVarCurve struct {
	At     spot
	Word   text                `key:"=" words:"ieee 1547 a|ieee 1547 b|as-nzs 4777.2 a" doc:"a published default"`
	Points list[*voltVarPoint] `key:"[]" doc:"points of rising voltage"`
}

type voltVarPoint struct {
	At        spot
	Voltage   quantity `key:"voltage" dim:"voltage" in:"> 0" doc:"phase voltage; this or of_nominal"`
	OfNominal quantity `key:"of_nominal" dim:"share" in:"> 0" doc:"the same as a share of the supply's nominal voltage"`
	Reactive  quantity `key:"reactive" dim:"share" in:"-100 % .. 100 %" must:"yes" doc:"reactive power as a share of the rating; absorbing is positive"`
}

type frequencyFile struct {
	At         spot
	Word       text     `key:"=" words:"lfsm|ieee 1547" doc:"a published default"`
	Over       quantity `key:"over" dim:"frequency" in:"> 0" doc:"it injects less above this"`
	OverDroop  quantity `key:"over_droop" dim:"share" in:"0.1 % .. 100 %" doc:"rise of frequency that takes the whole reference power, as a share of nominal"`
	Under      quantity `key:"under" dim:"frequency" in:"> 0" doc:"it injects more below this"`
	UnderDroop quantity `key:"under_droop" dim:"share" in:"0.1 % .. 100 %" doc:"fall of frequency that asks for the whole reference power"`
	Nominal    quantity `key:"nominal" dim:"frequency" in:"> 0" doc:"absent means the supply's"`
	Reference  quantity `key:"reference" dim:"power" in:"> 0" doc:"power that the droop is a share of; absent means the power when the threshold is passed"`
	Delay      quantity `key:"delay" dim:"time" in:"0 .. 60 s" or:"0 s" doc:"initial delay"`
	Response   quantity `key:"response" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"open-loop response time"`
	Hold       text     `key:"hold" words:"yes|no" or:"no" doc:"the deepest change is kept until release"`
	Release    quantity `key:"release" dim:"time" in:"0 .. 1 h" or:"0 s" doc:"time between the thresholds before release"`
}

type protectionFile struct {
	At     spot
	Word   text             `key:"=" words:"erec g98-g99" doc:"a published table"`
	Stages list[*stageFile] `key:"[]" doc:"at most twelve stages"`
}

type stageFile struct {
	At     spot
	UnderV quantity `key:"under_voltage" dim:"voltage" in:"> 0" doc:"trips below this phase voltage"`
	OverV  quantity `key:"over_voltage" dim:"voltage" in:"> 0" doc:"trips above this phase voltage"`
	UnderF quantity `key:"under_frequency" dim:"frequency" in:"> 0" doc:"trips below this frequency"`
	OverF  quantity `key:"over_frequency" dim:"frequency" in:"> 0" doc:"trips above this frequency"`
	Delay  quantity `key:"delay" dim:"time" in:"0 .. 1 h" must:"yes" doc:"how long without a break"`
}

type reconnectFile struct {
	At        spot
	Word      text     `key:"=" words:"ieee 1547" doc:"a published default, for 60 Hz"`
	Voltage   span     `key:"voltage" dim:"voltage" in:"> 0" must:"yes" doc:"window of the phase voltages, like 207 V to 241 V"`
	Frequency span     `key:"frequency" dim:"frequency" in:"> 0" must:"yes" doc:"window of the frequency, like 49.5 Hz to 50.1 Hz"`
	Delay     quantity `key:"delay" dim:"time" in:"0 .. 1 h" or:"60 s" doc:"time within both before it connects"`
	Ramp      quantity `key:"ramp" dim:"shareramp" in:"> 0" doc:"rise of the permitted power afterwards; absent means at once"`
}
