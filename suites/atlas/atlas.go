package atlas

import "fmt"

// plates are the pictures in the order of the page, by chapter.
var plates = []struct {
	section string
	draw    []func() (Picture, error)
}{
	{"Battery", []func() (Picture, error){energy, pulse, chargePhases, derating, reportedSOC, rainflow}},
	{"Inverter", []func() (Picture, error){actuator, partLoad, sandia}},
	{"Sun and PV", []func() (Picture, error){sunDay, clearSky, dcPower, cloudEdge, ramps}},
	{"Grid voltage and flicker", []func() (Picture, error){inlet, flicker}},
	{"Answers to voltage and frequency", []func() (Picture, error){voltWatt, voltVar, droop}},
	{"Protection", []func() (Picture, error){fuse, breaker, replica}},
	{"Loads and charging", []func() (Picture, error){loads, pilot, vehicle}},
	{"Meters", []func() (Picture, error){meterTells, ctLimits, displacement, wiring}},
	{"Control loops", []func() (Picture, error){loopLimits, loopPair, circulating}},
}

// Pictures works out all pictures.
func Pictures() ([]Picture, error) {
	var all []Picture
	for _, chapter := range plates {
		for _, draw := range chapter.draw {
			p, err := draw()
			if err != nil {
				return nil, fmt.Errorf("atlas, chapter %q, picture %d: %w", chapter.section, len(all)+1, err)
			}
			p.Section = chapter.section
			all = append(all, p)
		}
	}
	return all, nil
}
