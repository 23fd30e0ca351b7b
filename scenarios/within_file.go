package scenarios

// The types of a file that says within what a scenario may vary; see site_file.go.

type withinFile struct {
	At         spot
	Format     whole                   `key:"format" in:"1..1" doc:"version of the file format, 1"`
	Within     text                    `key:"within" must:"yes" doc:"its title"`
	Story      text                    `key:"story" doc:"why these ranges, and where they come from"`
	Parameters entries[*parameterFile] `key:"parameters" must:"yes" doc:"names with ranges, like load: {range: 1 kW to 8 kW, plain: 1 kW}"`
	Changes    list[*changeFile]       `key:"changes" must:"yes" doc:"a list of what the parameters do to the scenario"`
}

type parameterFile struct {
	At    spot
	Range text       `key:"range" doc:"its least and its largest value, like 2 min to 10 min"`
	Words list[text] `key:"words" doc:"what it may be, in the place of a range"`
	Plain text       `key:"plain" doc:"the value at which it disturbs nothing, or as it stands for that of the scenario; absent for one that only says when or how another disturbs"`
	Scale text       `key:"scale" words:"linear|logarithmic" or:"linear" doc:"logarithmic gives each tenfold the same room"`
	Steps text       `key:"steps_of" doc:"it takes multiples of this, such as 1 s; absent means about a two-hundredth of its range"`
	About text       `key:"about" doc:"what it is, in a few words"`
}

type changeFile struct {
	At      spot
	Place   text `key:"place" doc:"a place of the scenario that takes another value, like north.battery.soc or lasts"`
	Value   raw  `key:"value" doc:"what stands there then, with $load for the value of the parameter load"`
	Happens raw  `key:"happens" doc:"an event more, as under happens in a scenario, with parameters in its words"`
}
