package queue

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"
)

// notes tells what happens to a connection that is in use, and the same thing not again and again.
type notes struct {
	tell  func(text string)
	ready atomic.Bool // before, what goes wrong is Open's error

	mutex sync.Mutex
	last  string
	at    time.Time
}

// noteAgain is after how long the same note is told again.
const noteAgain = 30 * time.Second

func (q *Queue) note(format string, args ...any) {
	if q.notes.ready.Load() {
		q.notes.say(fmt.Sprintf(format, args...))
	}
}

func (n *notes) say(text string) {
	if n.tell == nil {
		return
	}
	n.mutex.Lock()
	defer n.mutex.Unlock()
	if text == n.last && time.Since(n.at) < noteAgain {
		return
	}
	n.last, n.at = text, time.Now()
	n.tell(text)
}
