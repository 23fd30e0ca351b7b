package suites

import "iter"

// ring holds the last of many things.
type ring[T any] struct {
	kept []T
	next int // where the oldest is, once it is full
}

func newRing[T any](size int) ring[T] { return ring[T]{kept: make([]T, 0, size)} }

func (r *ring[T]) push(x T) {
	if len(r.kept) < cap(r.kept) {
		r.kept = append(r.kept, x)
		return
	}
	r.kept[r.next] = x
	r.next = (r.next + 1) % len(r.kept)
}

// all goes from the oldest to the newest.
func (r *ring[T]) all() iter.Seq[T] {
	return func(yield func(T) bool) {
		for i := range r.kept {
			if !yield(r.kept[(r.next+i)%len(r.kept)]) {
				return
			}
		}
	}
}
