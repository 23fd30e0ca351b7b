//go:build !linux

package emulator

import "errors"

// usageOf has no support on this system: only what a controller prints is limited.
func usageOf(int) (usage, error) { return usage{}, errors.ErrUnsupported }

func (p *Process) start() error { return p.command.Start() }
