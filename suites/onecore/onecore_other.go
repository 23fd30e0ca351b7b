//go:build !linux

package onecore

import "time"

// Here is the place of the core that this process runs on; always 0 on this system.
func Here() int { return 0 }

// Keep changes nothing on this system: its scheduler is left to choose.
func Keep(int) (release func()) { return func() {} }

// Hush changes nothing on this system.
func Hush(time.Duration) (release func()) { return func() {} }
