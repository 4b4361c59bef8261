package planning

import (
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
)

// A levain is starter for one bake, built in a jar of its own: all of it goes into the
// dough, and the mother that it is built from stays as it is.

// unwatched is the levain's jar where none that is watched is meant.
const unwatched = "-"

// ripensIn is the slug of the jar in which the starter for the dough ripens; "" where
// none is watched.
func (a Ask) ripensIn() string {
	switch a.Levain {
	case "":
		return a.Vessel
	case unwatched:
		return ""
	}
	return a.Levain
}

// levainJar checks the jar that is asked for and returns its name; "" where there is none.
func (p Planner) levainJar(ask Ask) (name string, err error) {
	if ask.Levain == "" || ask.Levain == unwatched {
		return "", nil
	}
	for _, v := range p.Conf.Vessels {
		if v.Kind == config.Jar && v.Slug == ask.Levain && v.Slug != ask.Vessel {
			return v.Name, nil
		}
	}
	return "", &AskError{Say: text.Say("plan.asked.levain", text.Name("name", ask.Levain))}
}
