package physics

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// measuredSky reads one day of irradiance, minute by minute, of a public station: Golden, Colorado, 39.91 N,
// 105.23 W, 1855 m, 14 October 2018, a day of broken cloud.
func measuredSky() SkyParams {
	GinkgoHelper()
	folder := os.Getenv("KILTER_DATA")
	if folder == "" {
		Skip("KILTER_DATA is not set: the folder that holds the public station's file")
	}
	file, err := os.Open(filepath.Join(folder, "irradiance-1min-nrel-m2-2018-10-14.csv"))
	if err != nil {
		Skip("the public station's file is missing: " + err.Error())
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	Expect(err).NotTo(HaveOccurred())
	s := SkyParams{
		LatitudeDeg: 39.91, LongitudeDeg: -105.23, AltitudeM: 1855, ClearSky: IneichenPerez,
		StartUnixS: time.Date(2018, 10, 14, 7, 0, 0, 0, time.UTC).Unix(), // midnight of the station's clock
	}
	for i, row := range rows[1:] {
		ghi, err := strconv.ParseFloat(row[2], 64)
		Expect(err).NotTo(HaveOccurred())
		s.Irradiance = append(s.Irradiance, IrradiancePoint{AtMS: int64(i) * 60_000, GHI: max(ghi, 0)})
	}
	return s
}

var _ = Describe("a day of measured irradiance (the station's public data)", func() {
	It("is the day that its description says: peak 885 W/m2, largest change 339 W/m2, 28 changes over 100 W/m2", func() {
		points := measuredSky().Irradiance
		Expect(points).To(HaveLen(1440))
		peak, largest, over := 0.0, 0.0, 0
		for i, p := range points {
			peak = max(peak, p.GHI)
			if i > 0 {
				change := math.Abs(p.GHI - points[i-1].GHI)
				largest = max(largest, change)
				if change > 100 {
					over++
				}
			}
		}
		Expect(peak).To(BeNumerically("~", 885, 0.5))
		Expect(largest).To(BeNumerically("~", 339, 0.5))
		Expect(over).To(Equal(28))
	})

	It("begins and ends with the sun of the solar position algorithm", func() {
		s := measuredSky()
		times, ok := SunTimesOf(float64(time.Date(2018, 10, 14, 0, 0, 0, 0, time.UTC).Unix()), sunDeltaTS, newSunTrack(&s).place)
		Expect(ok).To(BeTrue())
		first, last := math.NaN(), math.NaN()
		for _, p := range s.Irradiance {
			if p.GHI > 5 {
				last = float64(s.StartUnixS) + float64(p.AtMS)/1000
				if math.IsNaN(first) {
					first = last
				}
			}
		}
		// Hills, cloud and twilight: within half an hour.
		Expect(first).To(BeNumerically("~", times.RiseS, 1800))
		Expect(last).To(BeNumerically("~", times.SetS, 1800))
	})

	It("PV-53: is never brighter than 1.5 of the clear sky by Ineichen and Perez, and goes well beyond the clear sky (published)", func() {
		s := measuredSky()
		track := newSunTrack(&s)
		brightest := 0.0
		for _, p := range s.Irradiance {
			sun, au := track.at(float64(s.StartUnixS) + float64(p.AtMS)/1000)
			if sun.ApparentDeg > 10 {
				brightest = max(brightest, p.GHI/s.clear(&sun, solarConstant/(au*au)).GHI)
			}
		}
		Expect(brightest).To(And(BeNumerically("<", 1.5), BeNumerically(">", 1.2)))
		AddReportEntry("brightest over clear", brightest, ReportEntryVisibilityFailureOrVerbose)
	})

	It("drives a roof: its day's yield and its ramps are plausible", func() {
		s := roof()
		s.Sky = measuredSky()
		s.Arrays[0].AmbientTempC = 5
		horizontalWh := 0.0
		for _, p := range s.Sky.Irradiance {
			horizontalWh += p.GHI / 60
		}
		largest, was := 0.0, math.NaN()
		a := day(&s, 1, func(second int, a *Array) {
			if second%60 == 0 {
				if !math.IsNaN(was) {
					largest = max(largest, math.Abs(a.PowerW-was)/12000)
				}
				was = a.PowerW
			}
		})
		yield := a.Energy.Wh() / 12000 // [h] at peak power
		AddReportEntry("horizontal [Wh/m2], yield [h at peak power], largest minute over peak power", []float64{horizontalWh, yield, largest}, ReportEntryVisibilityFailureOrVerbose)
		// A plane of 30 deg to the south gains in October, up to the clear day's 1.6; losses and heat take 8 to 16 %.
		Expect(yield).To(And(BeNumerically(">", 0.9*horizontalWh/1000), BeNumerically("<", 1.5*horizontalWh/1000)))
		// PV-55: a single roof changed by 0.4 of capacity in a minute on an example day (published, Perez et al. 2013).
		Expect(largest).To(And(BeNumerically(">", 0.25), BeNumerically("<", 0.7)))
	})
})
