// Package export writes what is stored for other programs: a vessel's readings as
// a recording, as a table or in the line protocol, and the journal as JSON.
package export
