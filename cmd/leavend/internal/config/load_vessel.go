package config

import (
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

func readVessel(s *section) Vessel {
	kind := Jar
	word(s, "kind", &kind, Jar, Bowl, aliquotKind)
	aliquot := kind == aliquotKind
	if aliquot {
		kind = Bowl
	}
	v := DefaultVessel(kind)
	v.Aliquot = aliquot
	s.text("name", &v.Name)
	readSlug(s, &v)
	s.text("starter", &v.Starter)
	if v.Starter == "" && kind == Jar {
		v.Starter = v.Name
	}
	s.text("distance", &v.Distance)
	s.need(v.Distance != "", "distance", "must be given: the name of the sensor that looks down into it")
	s.text("temperature", &v.Temperature)
	s.length("floor_mm", &v.FloorMM, limits{low: 0, high: 2000})
	const why = "that is no jar or bowl for a kitchen"
	s.length("bore_bottom_mm", &v.BottomMM, limits{low: 20, high: 600, why: why})
	s.length("bore_top_mm", &v.TopMM, limits{low: 20, high: 600, why: why})
	s.length("height_mm", &v.HeightMM, limits{low: 20, high: 600, why: why})
	if kind == Bowl {
		s.number("target_ratio", &v.TargetRatio, limits{low: 1.1, high: 4, why: "1 is the dough as it went in"})
	}
	s.span("every", &v.Every, time.Second, 5*time.Minute, "a curve wants several readings a minute, a card few")
	s.need(!s.given("bore_top_mm") || s.given("bore_bottom_mm") && s.given("height_mm"), "bore_top_mm",
		"needs bore_bottom_mm and height_mm with it, or the taper cannot be told")
	if v.Aliquot && v.TopMM != 0 && v.TopMM != v.BottomMM {
		s.wrong("bore_top_mm", "an aliquot jar has straight sides: as wide at the top as at the floor, or it is a bowl")
	}
	if v.FloorMM > 0 && v.HeightMM > 0 && v.FloorMM < v.HeightMM/2 {
		s.wrong("floor_mm", "%s mm is less than half the vessel's height_mm; it is the distance from the sensor to the floor inside", plain(v.FloorMM))
	}
	s.done()
	return v
}

// readSlug takes the vessel's name for topics from the file or from its name.
func readSlug(s *section, v *Vessel) {
	s.text("slug", &v.Slug)
	switch {
	case v.Name == "":
		s.missing("name", "must be given: the page and the messages call the vessel by it")
	case len([]rune(v.Name)) > 40:
		s.wrong("name", "%q is longer than 40 letters", v.Name)
	case v.Slug != "" && v.Slug != Slug(v.Slug):
		s.wrong("slug", "%q may have only a to z, 0 to 9 and hyphens between them; %q would do", v.Slug, Slug(v.Slug))
	case v.Slug == "":
		if v.Slug = Slug(v.Name); v.Slug == "" {
			s.wrong("name", `%q has no letter from a to z for topics; add slug = "…"`, v.Name)
		}
	}
}

// Slug returns a name as it can stand in a topic, an address and a metric's
// label: a to z, 0 to 9, and hyphens between them. Accents are dropped. It is
// empty if nothing is left.
func Slug(name string) string {
	var b strings.Builder
	gap := false
	for _, c := range norm.NFKD.String(strings.ToLower(name)) {
		switch {
		case c >= 'a' && c <= 'z' || c >= '0' && c <= '9':
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			gap = false
			b.WriteRune(c)
		case unicode.Is(unicode.Mn, c):
			// A combining accent belongs to the letter before it.
		default:
			gap = true
		}
	}
	return b.String()
}
