package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"kilter/emulator"
	"kilter/suites/campaign"
	"kilter/suites/queue"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// worker is one call of kilter worker.
type worker struct {
	queue     queue.Options
	slots     int
	commands  []string
	variables []string
	longest   time.Duration
	allowed   allowance

	mutex        sync.Mutex
	line         *report.Line
	done, failed atomic.Int64
	began        time.Time
}

func newWorker() *cobra.Command {
	w := worker{}
	cmd := &cobra.Command{
		Use:   "worker",
		Short: "Play runs of campaigns that others begin, such as a sweep with --nats",
		Long: `worker joins the queue on a NATS server and plays runs of any campaign of this same build, with
the controllers that come along and with the commands that are allowed, until it is interrupted;
what is under way then goes back to the queue at once. When the server is away it waits.

Whoever may publish to the NATS server can make workers simulate, and can put wrong results beside the
right ones, which are trusted. So let the server ask for credentials and TLS. A worker runs nothing but the
commands that it was started with, word for word; do not allow one that runs what its arguments say, such as
a shell, nor a variable that makes an interpreter run what it holds.`,
		Example: `  kilter worker --nats tls://bench.example:4222 --credentials worker.creds
  kilter worker --nats nats://127.0.0.1:4222 --slots 4 --allow './mine --gain {gain}' --variable HOLD_S`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return w.run(cmd) },
	}
	f := cmd.Flags()
	queueFlags(cmd, &w.queue)
	f.IntVar(&w.slots, "slots", runtime.GOMAXPROCS(0), "how many runs at a time; as many as there are cores by default")
	f.StringArrayVar(&w.commands, "allow", nil, "a controller's `COMMAND` that runs may start, word for word as the campaign gives it with --controller, before its settings are filled in; may be given again")
	f.StringArrayVar(&w.variables, "variable", nil, "the `NAME` of an environment variable that runs may set for their controllers; may be given again")
	f.DurationVar(&w.longest, "longest", time.Hour, "give a run up that takes longer than this on the wall clock")
	w.allowed.flags(cmd)
	return cmd
}

func (w *worker) run(cmd *cobra.Command) error {
	if err := w.settle(); err != nil {
		return err
	}
	player, err := ownPlayer(w.commands...)
	if err != nil {
		return err
	}
	player.Own, player.Variables, player.Limits = false, w.variables, w.allowed.limits
	w.queue.Wait, w.queue.Note = true, func(text string) { w.note(cmd.ErrOrStderr(), text) }
	w.line, w.began = report.NewLine(cmd.ErrOrStderr(), isTerminal(os.Stderr), time.Now), time.Now()
	q, err := queue.Open(cmd.Context(), w.queue)
	switch {
	case err != nil && cmd.Context().Err() != nil:
		return nil // told to end while it waited for the server
	case err != nil:
		return err
	}
	defer q.Close()
	w.offer(cmd.ErrOrStderr(), player)
	processes := campaign.NewProcesses(player, w.slots)
	defer processes.Close()
	shown, stop := context.WithCancel(cmd.Context())
	var showing sync.WaitGroup
	showing.Go(func() { w.show(shown) })
	err = q.Work(cmd.Context(), queue.Worker{Offers: player.Offers(), Slots: w.slots, Run: func(ctx context.Context, body []byte) ([]byte, error) {
		return w.play(ctx, processes, body)
	}})
	stop()
	showing.Wait()
	w.line.Done()
	fmt.Fprintln(cmd.OutOrStdout(), w.text())
	return err
}

// settle says what is wrong with the flags. A program that is missing is better known before runs fail for it.
func (w *worker) settle() error {
	if w.queue.URL == "" {
		return errors.New("--nats is missing: the URL of the NATS server through which campaigns hand out their runs, such as tls://host:4222")
	}
	if err := errors.Join(checkQueue(&w.queue), w.allowed.settle()); err != nil {
		return err
	}
	switch {
	case w.slots < 1:
		return fmt.Errorf("--slots %d: must be 1 or more", w.slots)
	case w.longest <= 0:
		return fmt.Errorf("--longest %v: must be longer than 0 s", w.longest)
	}
	for _, command := range w.commands {
		words, err := emulator.SplitCommand(command)
		if err != nil {
			return fmt.Errorf("--allow %s: %w", quote(command), err)
		}
		if err := emulator.FindProgram(words[0]); err != nil {
			return coded{verdict.ExitControllerGone, fmt.Errorf("--allow %s: %w", quote(command), err)}
		}
	}
	slices.Sort(w.commands)
	w.commands = slices.Compact(w.commands)
	return nil
}

// play plays one run, within its time.
func (w *worker) play(ctx context.Context, processes *campaign.Processes, body []byte) ([]byte, error) {
	within, cancel := context.WithTimeout(ctx, w.longest)
	defer cancel()
	result, err := processes.Work(within, body)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case within.Err() != nil:
		result, err = nil, fmt.Errorf("it took longer than the worker's --longest of %v", w.longest)
	}
	if w.done.Add(1); err != nil {
		w.failed.Add(1)
	}
	return result, err
}

// offer says what the worker can play.
func (w *worker) offer(to io.Writer, player *campaign.Player) {
	fmt.Fprintf(to, "playing %d runs at a time that need\n  %s\n", w.slots, strings.Join(player.Offers(), "\n  "))
}

// show keeps the line until the context ends.
func (w *worker) show(ctx context.Context) {
	ticker := time.NewTicker(time.Second)
	defer ticker.Stop()
	told := ""
	for {
		select {
		case <-ticker.C:
			w.mutex.Lock()
			if _, due := w.line.Due(); due && w.text() != told { // nothing new is not worth a line
				told = w.text()
				w.line.Show(told)
			}
			w.mutex.Unlock()
		case <-ctx.Done():
			return
		}
	}
}

// text reads "312 runs  6.1/s  2 of them could not be played".
func (w *worker) text() string {
	done := w.done.Load()
	parts := []string{verdict.Counted(int(done), "run")}
	if took := time.Since(w.began).Seconds(); done > 0 && took > 0 {
		parts = append(parts, fmt.Sprintf("%.3g/s", float64(done)/took))
	}
	if failed := w.failed.Load(); failed > 0 {
		parts = append(parts, fmt.Sprintf("%d of them could not be played", failed))
	}
	return strings.Join(parts, "  ")
}

// note writes a line of its own.
func (w *worker) note(to io.Writer, text string) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	w.line.Done()
	fmt.Fprintln(to, "kilter: "+text)
}
