package scenarios

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

const syntheticSky = "../testdata/sky/synthetic-day.csv"

// synthetic is the file of the invented day: a half sine from 5 to 19 h up to
// 900 W/m2, from 10 to 15 h with a cloud each 17 minutes that takes up to 60 %, and
// -2 W/m2 at night like an instrument's thermal offset.
func synthetic() string {
	var b strings.Builder
	b.WriteString("time,ghi\n")
	for m := range 24 * 60 {
		h := float64(m) / 60
		ghi := -2.0
		if h > 5 && h < 19 {
			ghi = 900 * math.Sin(math.Pi*(h-5)/14)
		}
		if h >= 10 && h < 15 {
			ghi *= 1 - 0.6*math.Pow(math.Max(0, math.Sin(2*math.Pi*h*60/17)), 4)
		}
		fmt.Fprintf(&b, "%02d:%02d,%.1f\n", m/60, m%60, ghi)
	}
	return b.String()
}

func skyOf(text string) (*timetable, error) {
	return parseTable("sky.csv", strings.NewReader(text), &irradianceTable)
}

var _ = Describe("a measured sky", func() {
	starts := time.Date(2026, 6, 18, 10, 30, 0, 0, time.UTC)

	It("may be the synthetic day, which is what its description says", func() {
		if *update {
			Expect(os.WriteFile(syntheticSky, []byte(synthetic()), 0o644)).To(Succeed())
		}
		text, err := os.ReadFile(syntheticSky)
		Expect(err).NotTo(HaveOccurred())
		Expect(string(text)).To(Equal(synthetic()))
	})

	It("is laid by its clock on the scenario's local clock, whatever the zone", func() {
		oslo, err := time.LoadLocation("Europe/Oslo")
		Expect(err).NotTo(HaveOccurred())
		points, err := LoadSky(syntheticSky, time.Date(2026, 6, 18, 12, 0, 0, 0, oslo))
		Expect(err).NotTo(HaveOccurred())
		// 12:00 of the file, by hand: 900 sin(pi / 2) and a cloud at sin(2 pi 720 / 17).
		Expect(points[0].AtMS).To(Equal(int64(0)))
		Expect(points[0].GHI).To(BeNumerically("~", 900*(1-0.6*math.Pow(math.Sin(2*math.Pi*720/17), 4)), 0.05))
		Expect(points[len(points)-1].AtMS).To(Equal(int64((24*60 - 1 - 12*60) * 60_000)))
	})

	It("is cut to the run, with one point on each side to draw the line from", func() {
		s, err := mustParse("format: 1\nscenario: X\nsite: bakery\nstarts: 2026-06-18 10:30:30\nlasts: 2 min\n").WithSkyFile(syntheticSky)
		Expect(err).NotTo(HaveOccurred())
		var at []int64
		for _, p := range s.Site.Plant.Sky.Irradiance {
			at = append(at, p.AtMS)
		}
		Expect(at).To(Equal([]int64{-30_000, 30_000, 90_000, 150_000}))
	})

	It("has no negative values, since those of the night are the instrument's offset", func() {
		points, err := LoadSky(syntheticSky, time.Date(2026, 6, 18, 0, 0, 0, 0, time.UTC))
		Expect(err).NotTo(HaveOccurred())
		Expect(points).To(HaveLen(1440))
		for _, p := range points {
			Expect(p.GHI).To(BeNumerically(">=", 0))
		}
		Expect(points[0].GHI).To(BeZero())
	})

	It("may be told in seconds since the start, in clock times or by RFC 3339", func() {
		for _, text := range []string{
			"time,ghi\n0,100\n1.5,200\n60,300\n",
			"time,ghi\n10:30,100\n10:30:01,200\n10:31,300\n",
			"time,ghi\n2020-01-01T10:30:00-07:00,100\n2020-01-01T10:30:01-07:00,200\n2020-01-01T10:31:00-07:00,300\n",
		} {
			t, err := skyOf(text)
			Expect(err).NotTo(HaveOccurred())
			points, err := t.from(starts, time.Minute)
			Expect(err).NotTo(HaveOccurred())
			Expect(points).To(HaveLen(3))
			Expect(points[2].atMS).To(Equal(int64(60_000)))
			Expect(points[2].value).To(Equal(300.0))
		}
	})

	It("says which hours it covers when the scenario needs others", func() {
		t, err := skyOf("time,ghi\n06:00,1\n10:45,2\n")
		Expect(err).NotTo(HaveOccurred())
		_, err = t.from(starts, time.Hour)
		Expect(err).To(MatchError("sky.csv: found irradiance 06:00 to 10:45, wanted what the scenario needs: 10:30 to 11:30 (the file's clock time is laid on the scenario's local clock time)"))
		_, err = mustParse(shortHead).WithSkyFile(syntheticSky)
		Expect(err).NotTo(HaveOccurred())
		_, err = mustParse(strings.Replace(shortHead, "01:30", "21:30", 1)).WithSkyFile(syntheticSky)
		Expect(err).To(MatchError(ContainSubstring("found irradiance 00:00 to 23:59, wanted what the scenario needs: 21:30 to 01:30 of day 2")))
	})

	DescribeTable("that is broken is refused with its line",
		func(text, want string) {
			_, err := skyOf(text)
			Expect(err).To(MatchError(want))
		},
		Entry("empty", "", "sky.csv: found an empty file, wanted a CSV of measured irradiance"),
		Entry("another header", "a,b\n1,2\n", `sky.csv:1:1: found the header "a,b", wanted time,ghi or the station's DATE (MM/DD/YYYY), time and Global [W/m^2]`),
		Entry("absurd value", "time,ghi\n10:00,5\n10:01,4500\n", "sky.csv:3:1: found the irradiance 4500 W/m2, wanted -30 to 2000 W/m2"),
		Entry("far below zero", "time,ghi\n10:00,-99\n", "sky.csv:2:1: found the irradiance -99 W/m2, wanted -30 to 2000 W/m2"),
		Entry("no number", "time,ghi\n10:00,NaN\n", `sky.csv:2:1: found the irradiance "NaN", wanted a number in W/m2`),
		Entry("back in time", "time,ghi\n10:00,5\n09:59,5\n", "sky.csv:3:1: found 09:59 after 10:00, wanted rows in the order of time"),
		Entry("one row", "time,ghi\n10:00,5\n", "sky.csv: found 1 rows, wanted at least two"),
		Entry("a short row", "time,ghi\n10:00\n", "sky.csv:2:1: found 1 columns, wanted at least 2"),
		Entry("a broken quote", "time,ghi\n\"10:00,5\n", "sky.csv:2:1: found a broken row, wanted values between commas"),
		Entry("mixed times", "time,ghi\n10:00,5\n60,5\n", `sky.csv:3:1: found the time "60", wanted HH:MM, HH:MM:SS, RFC 3339, or seconds since the start in every row`),
	)

	// Independent: the measurement itself, NREL MIDC M2 station, Golden, Colorado,
	// 14 October 2018: 1440 minutes, peak 885 W/m2, largest change between two minutes
	// 339 W/m2, 28 changes above 100 W/m2.
	It("may be the public station's day of broken cloud", func() {
		dir := os.Getenv("KILTER_DATA")
		if dir == "" {
			Skip("KILTER_DATA is not set: the folder that holds the public station's file")
		}
		path := filepath.Join(dir, "irradiance-1min-nrel-m2-2018-10-14.csv")
		points, err := LoadSky(path, time.Date(2026, 10, 14, 0, 0, 0, 0, time.UTC))
		Expect(err).NotTo(HaveOccurred())
		Expect(points).To(HaveLen(1440))
		peak, largest, above := 0.0, 0.0, 0
		for i, p := range points {
			peak = max(peak, p.GHI)
			if i > 0 {
				d := math.Abs(p.GHI - points[i-1].GHI)
				largest = max(largest, d)
				if d > 100 {
					above++
				}
			}
		}
		Expect(peak).To(BeNumerically("~", 885, 0.5))
		Expect(largest).To(BeNumerically("~", 339, 0.5))
		Expect(above).To(Equal(28))
	})
})
