package campaign

import (
	"context"
	"encoding/json"
	"fmt"
	"io"

	"kilter/suites/onecore"
)

// PlayFor plays runs for the Processes of another process: they come on in, each after the one before has been answered on out. It
// ends when in does, which cuts a run short that is under way: whatever becomes of the other process, no controller is left.
func PlayFor(in io.Reader, out io.Writer) error {
	lines := json.NewDecoder(in)
	var first toldFirst
	if err := lines.Decode(&first); err != nil {
		return fmt.Errorf("campaign: found no player on standard input: %w", err)
	}
	if first.Player == nil {
		return fmt.Errorf("campaign: found no player in the first line on standard input")
	}
	if first.Place != anyCore {
		onecore.Keep(first.Place)
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	runs := make(chan json.RawMessage)
	go func() {
		defer close(runs)
		defer stop()
		for {
			var run json.RawMessage
			if lines.Decode(&run) != nil {
				return
			}
			select {
			case runs <- run:
			case <-ctx.Done():
				return
			}
		}
	}()
	answers := json.NewEncoder(out)
	for run := range runs {
		result, err := first.Player.Work(ctx, run)
		if ctx.Err() != nil {
			return nil
		}
		a := answer{Result: result}
		if err != nil {
			a = answer{Error: err.Error()}
		}
		if err := answers.Encode(a); err != nil {
			return fmt.Errorf("campaign: %w", err)
		}
	}
	return nil
}
