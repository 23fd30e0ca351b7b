// Package panel is the live page of a bench that is being served: the site's single-line diagram with what flows,
// strip charts, each criterion's margin, registers, traffic, and what may be made to happen. What was made to
// happen is kept, and can be saved as a scenario.
//
// The panel looks on from the bench's own observer and never holds the bench up: a viewer that is too slow loses its
// connection and comes back. A figure is put into words, and compressed, once for all viewers.
//
// It serves on loopback and knows its own names; requests from pages of other origins are refused, and the page may
// load and run nothing but its own parts. No request names a file.
package panel
