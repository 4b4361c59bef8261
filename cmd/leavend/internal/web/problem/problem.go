// Package problem is an error of the page on its way to a visitor, in the form of
// RFC 9457.
package problem

import (
	"fmt"
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

// Problem is one such error.
type Problem struct {
	Status     int           `json:"status"`
	Code       string        `json:"code"`
	Title      string        `json:"title"`
	Detail     string        `json:"detail,omitempty"`
	Say        text.Message  `json:"say,omitzero"` // the detail for a reader of any language
	RetryAfter time.Duration `json:"-"`
}

func (p *Problem) Error() string { return fmt.Sprintf("%d %s: %s", p.Status, p.Code, p.Detail) }

// Explain is what a person reads of it.
func (p *Problem) Explain() text.Message {
	if !p.Say.IsZero() {
		return p.Say
	}
	if say := failure.OfCode(p.Code); !say.IsZero() {
		return say
	}
	return text.Literal(p.Detail)
}

// New makes a problem; args are those of detail's verbs.
func New(status int, code, detail string, args ...any) *Problem {
	if len(args) > 0 {
		detail = fmt.Sprintf(detail, args...)
	}
	return &Problem{Status: status, Code: code, Title: http.StatusText(status), Detail: detail}
}

// Refused makes a problem of a refusal, in the words of who reads it.
func Refused(r *failure.Refusal, reader text.Reader) *Problem {
	p := New(http.StatusConflict, r.Code, "%s", r.Explain().In(reader))
	p.Say = r.Say
	return p
}
