package verdict

// Clause is the verdict on one clause of a criterion, with a unit of its own.
type Clause struct {
	Name     string `json:"name"`
	Formula  string `json:"formula"`
	Status   Status `json:"status"`
	Margin   Number `json:"margin"`
	Observed Number `json:"observed"`
	Limit    Number `json:"limit"`
	Unit     string `json:"unit"`
	Bound    Bound  `json:"bound"`
	AtS      Number `json:"at_s"`
}

// Figure is a further number beside a verdict; it decides nothing.
type Figure struct {
	Name  string `json:"name"`
	Value Number `json:"value"`
	Unit  string `json:"unit,omitempty"`
}
