package sweep

import (
	"bytes"
	"encoding/json"
	"fmt"

	"kilter/suites/campaign"
	"kilter/suites/verdict"
)

// Tool is how sweep.json says what it is.
const Tool = "kilter sweep"

// Summary is what a sweep came to.
type Summary struct {
	Tool       string   `json:"tool"`
	Format     int      `json:"format"`
	Controller string   `json:"controller"`
	Stories    []string `json:"scenarios"`
	Seeds      int      `json:"seeds"`
	Design     Design   `json:"design"`
	Knobs      []Varied `json:"varied"`
	Goals      []Goal   `json:"goals,omitempty"`
	// Points is how many settings were tried, Passing how many of them met every criterion in all runs.
	Points  int `json:"points"`
	Passing int `json:"passing"`
	Runs    int `json:"runs"`
	// Front are those that no other beats; Recommended is one of them, or, where none passes, the one that fails least.
	Front       []Score `json:"front"`
	Recommended *Look   `json:"recommended"`
	// AsItStands is the controller and the site without what is varied, where that is known.
	AsItStands *Look `json:"as_it_stands,omitempty"`
	// Unbuilt are other sites that could not be built.
	Unbuilt []string `json:"unbuilt,omitempty"`
	// Spread is by how much other sites differ; 0 where none were tried.
	Spread float64 `json:"spread,omitempty"`
}

// Varied is a knob as the summary tells it: its values, or the ends of its range.
type Varied struct {
	Name   string   `json:"name"`
	Values []string `json:"values"`
	Range  bool     `json:"range,omitempty"`
}

// Varied tells a knob's values, or the ends of the range that a design draws from.
func (k *Knob) Varied() Varied {
	if k.Values == nil {
		return Varied{k.Name, []string{k.write(k.low, k.decimals), k.write(k.high, k.decimals)}, true}
	}
	return Varied{k.Name, k.Values, false}
}

// Look is a closer look at one setting.
type Look struct {
	Score
	// BySeed are the least shares by seed of the design, counted from each story's own: the place in the list is the distance.
	BySeed []verdict.Number `json:"by_seed"`
	// Fresh is what it came to on seeds that the design did not see, and Sites on other sites.
	Fresh *Trials `json:"fresh_seeds,omitempty"`
	Sites *Trials `json:"sites,omitempty"`
	// Command plays it again.
	Command string `json:"command"`
}

// Trials are runs that had no part in the choice.
type Trials struct {
	Score
	// Shares are the least shares of the runs, in their order.
	Shares []verdict.Number `json:"shares"`
}

// LookAt looks at a setting more closely, by all cases there are of it.
func (p *Plan) LookAt(score Score, cases []Case, results []*campaign.Result, goals []Goal) *Look {
	look := &Look{Score: score, BySeed: make([]verdict.Number, p.Seeds)}
	for part, into := range map[Part]**Trials{OfSeeds: &look.Fresh, OfSites: &look.Sites} {
		list, came := only(part, score.Point, cases, results)
		if len(list) == 0 {
			continue
		}
		t := &Trials{Score: p.ScoreOf(score.Point, list, came, goals)}
		for _, r := range came {
			share, _ := r.Worst()
			t.Shares = append(t.Shares, verdict.Of(share))
		}
		*into = t
	}
	list, came := only(OfDesign, score.Point, cases, results)
	for i, c := range list {
		n := c.Seed - p.Stories[c.Story].Seed
		share, _ := came[i].Worst()
		if least, known := look.BySeed[n].Value(); !known || share < least {
			look.BySeed[n] = verdict.Of(share)
		}
	}
	return look
}

// only are the cases of a part and a point that have a result.
func only(part Part, point int, cases []Case, results []*campaign.Result) (list []Case, came []*campaign.Result) {
	for i, c := range cases {
		if c.Part == part && c.Point == point && results[i] != nil {
			list, came = append(list, c), append(came, results[i])
		}
	}
	return list, came
}

// JSON is the summary as sweep.json has it.
func (s *Summary) JSON() ([]byte, error) {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	if err := encoder.Encode(s); err != nil {
		return nil, fmt.Errorf("sweep: %w", err)
	}
	return text.Bytes(), nil
}
