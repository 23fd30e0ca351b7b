package scenarios

import (
	"path/filepath"
	"time"

	"kilter/physics"
)

// Resolve shows the scenario as one file that needs no other: the site is
// written out, times count from the start, the sky is in points. It loads again
// to the same scenario, so that a run can be repeated from its folder. Only a
// user's own register map stays a file of its own, named by its full path.
func (s *Scenario) Resolve() ([]byte, error) {
	f := &scenarioFile{
		Format: said(1), Scenario: words(s.Title), Story: words(s.Story),
		Starts: words(s.Starts.In(s.Zone).Format("2006-01-02 15:04:05")), Zone: words(s.Zone.String()),
		Lasts: lasting(s.Lasts), Seed: said(s.Seed), Step: lasting(s.Step),
		Commands: list[text]{}, ImportWanted: windowsFile(s.ImportWanted),
		ExportWanted: windowsFile(s.ExportWanted), Cheap: windowsFile(s.Cheap),
		Prices: pricesFile(s.Prices), Must: mustFileOf(s.Must),
	}
	if isName(s.Name) {
		f.Name = words(s.Name)
	}
	for _, c := range s.Commands {
		f.Commands = append(f.Commands, words(c))
	}
	site, err := siteFileOf(s.Site)
	if err != nil {
		return nil, err
	}
	f.Site = siteRefFile{Site: site.Site, Title: site.Title, Place: site.Place, Air: site.Air, Supply: site.Supply}
	if points := s.Site.Plant.Sky.Irradiance; len(points) > 0 {
		f.Sky = &skyFile{}
		for _, p := range points {
			f.Sky.Measured = append(f.Sky.Measured, &skyPointFile{When: lastingMS(p.AtMS), GHI: amount(p.GHI)})
		}
	}
	for _, e := range s.Events {
		f.Happens = append(f.Happens, e.file())
	}
	return write(f), nil
}

// The values of file types that come from a Scenario stand nowhere.
func amount(v float64) quantity               { return quantity{v: v, set: true} }
func said(v uint64) whole                     { return whole{v: v, set: true} }
func words(s string) text                     { return text{s: s, set: s != ""} }
func lasting(d time.Duration) quantity        { return amount(d.Seconds()) }
func lastingMS(ms int64) quantity             { return lasting(time.Duration(ms) * time.Millisecond) }
func saidUnless0(v int) whole                 { return whole{v: uint64(v), set: v != 0} }
func lastingUnless0(d time.Duration) quantity { return quantity{v: d.Seconds(), set: d != 0} }
func amountUnless0(v float64) quantity        { return quantity{v: v, set: v != 0} }
func timeWords(d time.Duration) string        { return dimensions["time"].format(d.Seconds()) }
func windowWords(w Window) text               { return words(timeWords(w.From) + " to " + timeWords(w.To)) }
func phasesWords(p physics.Phases) text       { return words(p.String()) }
func msWords(ms int64) text                   { return words(timeWords(time.Duration(ms) * time.Millisecond)) }
func yesIf(yes bool) text                     { return text{s: "yes", set: yes} }
func onOff(on bool, yes, no string) text      { return words(map[bool]string{true: yes, false: no}[on]) }

func windowsFile(windows []Window) list[text] {
	var l list[text]
	for _, w := range windows {
		l = append(l, windowWords(w))
	}
	return l
}

func pricesFile(windows []PriceWindow) list[*priceFile] {
	var l list[*priceFile]
	for _, w := range windows {
		l = append(l, &priceFile{From: words(timeWords(w.From)), To: words(timeWords(w.To)), Price: amount(w.Price)})
	}
	return l
}

// file shows an event in the words of the file.
func (e Event) file() *eventFile {
	return &eventFile{
		When: words(timeWords(e.At)), Disturbs: onOff(e.Disturbs, "yes", "no"), Text: words(e.Text),
		What: entries[whatFile]{{Name: e.Device, Value: e.whatFile()}},
	}
}

// what shows what happens, on one line.
func (e Event) what() string { return inWords(e.whatFile()) }

func (e Event) whatFile() whatFile {
	if e.Link != nil {
		return whatFile{Fault: words(e.Link.Kind.String()), Delay: lastingUnless0(e.Link.Delay), Lasts: lasting(e.Link.Lasts)}
	}
	if e.Trial != nil {
		return e.Trial.file()
	}
	switch a := e.Action.(type) {
	case physics.SwitchLoad:
		return whatFile{Switch: onOff(a.On, "on", "off")}
	case physics.SetLoad:
		return whatFile{Power: amount(a.PowerW)}
	case physics.PlugIn:
		return whatFile{PlugIn: amount(a.CurrentA), Energy: amountUnless0(a.EnergyWh)}
	case physics.Unplug:
		return whatFile{Word: words("unplug")}
	case physics.PassCloud:
		return whatFile{Cloud: &cloudFile{Depth: amount(a.Depth), Edge: amount(a.EdgeS), Lasts: amount(a.LastsS), Enhancement: amount(a.Enhancement)}}
	case physics.BrokenClouds:
		if !a.On {
			return whatFile{Word: words("clear")}
		}
		if a == physics.FieldClouds() {
			return whatFile{Broken: &brokenFile{Word: words(fieldClouds)}}
		}
		return whatFile{Broken: &brokenFile{
			Gap: amount(a.MeanGapS), Lasts: amount(a.MeanLastS), Enhancement: amount(a.MaxEnhancement),
			Depth: span{low: a.MinDepth, high: a.MaxDepth, set: true},
			Edge:  span{low: a.EdgeS, high: max(a.EdgeS, a.MaxEdgeS), set: true},
		}}
	case physics.SetMeterFault:
		return whatFile{Fault: words([]string{"none", "frozen", "reversed"}[a.Fault])}
	case physics.Trip:
		return whatFile{Trip: amount(a.LastsS)}
	case physics.SetSOC:
		return whatFile{SOC: amount(a.SOC)}
	case physics.JumpSOC:
		return whatFile{Told: amount(a.By)}
	case physics.Outage:
		if a.LastsS > 0 {
			return whatFile{Outage: amount(a.LastsS)}
		}
		return whatFile{Word: words("outage")}
	case physics.GridReturns:
		return whatFile{Word: words("returns")}
	case physics.SetGridVoltage:
		return whatFile{Voltage: amount(a.VoltageV)}
	case physics.SetGridFrequency:
		return whatFile{Frequency: amount(a.FrequencyHz)}
	}
	return whatFile{}
}

// wireFileOf shows a wire; a map's file is named by its full path, since the
// text may be read from another folder.
func wireFileOf(w *Wire) (*wireFile, error) {
	if w == nil {
		return nil, nil
	}
	f := &wireFile{
		Map: words(w.Map), Unit: said(uint64(w.Unit)), Sign: words(w.Sign), Base: said(uint64(w.Base)), ReplyTimeout: lasting(w.ReplyTimeout),
		Refresh: lastingUnless0(w.Refresh), Clients: saidUnless0(w.Clients), Gap: lastingUnless0(w.Gap),
		Slow: lastingUnless0(w.Slow), Endurance: saidUnless0(w.Endurance),
	}
	switch w.Link {
	case Gateway:
		f.Gateway = words(w.Shared)
	case RTULine:
		f.RTULine = words(w.Shared)
	case RTUOverTCP:
		f.RTUOverTCP = words(w.Shared)
	}
	if isMapFile(w.Map) {
		full, err := filepath.Abs(w.Map)
		if err != nil {
			return nil, err
		}
		f.Map = words(full)
	}
	return f, nil
}
