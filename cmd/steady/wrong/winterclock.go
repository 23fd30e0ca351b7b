package wrong

import (
	"time"

	"kilter/cmd/steady/control"
)

// The tariff's cheap hours, as an owner would copy them from a leaflet.
const cheapFrom, cheapTo = 3, 5

// winterClock is the reference controller with a timetable in the place of the tariff's contact. The start in the bench
// file says how far the clock is from UTC in that moment, and it goes on with that: what a time of day without a
// zone's name comes to.
func winterClock() parts {
	var starts time.Time
	p := misreads(func(file entry) {
		text, _ := file["starts"].(string)
		starts, _ = time.Parse(time.RFC3339, text)
		_, offset := starts.Zone()
		starts = starts.In(time.FixedZone("winter", offset))
	})()
	p.Mind = brain{see: func(s *control.Snapshot) {
		hour := starts.Add(s.At).Hour()
		s.Cheap = cheapFrom <= hour && hour < cheapTo
	}}.mind
	return p
}
