// Package onecore keeps a run on one of the machine's cores. In stepped pace the bench and the controller never work at the same time:
// each waits for the other. On a core each, every message wakes a core that has just gone to sleep, which takes a virtual machine
// longer than the message; on one core together the system only changes from one to the other.
package onecore
