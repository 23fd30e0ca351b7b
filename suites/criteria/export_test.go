package criteria

// What tests outside the package compare with known values.
var (
	Logarithm = logarithm
	Decay     = decay
)
