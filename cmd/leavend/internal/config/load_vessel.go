package config

import (
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"leavend/cmd/leavend/internal/text"
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
	s.must(v.Distance != "", "distance")
	s.text("temperature", &v.Temperature)
	s.length("floor_mm", &v.FloorMM, limits{low: 0, high: 2000})
	s.length("bore_bottom_mm", &v.BottomMM, limits{low: 20, high: 600})
	s.length("bore_top_mm", &v.TopMM, limits{low: 20, high: 600})
	s.length("height_mm", &v.HeightMM, limits{low: 20, high: 600})
	if kind == Bowl {
		s.number("target_ratio", &v.TargetRatio, limits{low: 1.1, high: 4})
	}
	s.span("every", &v.Every, time.Second, 5*time.Minute)
	s.need(!s.given("bore_top_mm") || s.given("bore_bottom_mm") && s.given("height_mm"), "bore_top_mm", "config.taper")
	if v.Aliquot && v.TopMM != 0 && v.TopMM != v.BottomMM {
		s.wrong("bore_top_mm", "config.aliquot")
	}
	if v.FloorMM > 0 && v.HeightMM > 0 && v.FloorMM < v.HeightMM/2 {
		s.wrong("floor_mm", "config.floor", text.Name("given", plain(v.FloorMM)))
	}
	s.done()
	return v
}

// readSlug takes the vessel's name for topics from the file or from its name.
func readSlug(s *section, v *Vessel) {
	s.text("slug", &v.Slug)
	switch {
	case v.Name == "":
		s.must(false, "name")
	case len([]rune(v.Name)) > 40:
		s.wrong("name", "config.long_name", text.Name("given", v.Name), text.Number("most", 40))
	case v.Slug != "" && v.Slug != Slug(v.Slug):
		s.wrong("slug", "config.slug", text.Name("given", v.Slug), text.Name("better", Slug(v.Slug)))
	case v.Slug == "":
		if v.Slug = Slug(v.Name); v.Slug == "" {
			s.wrong("name", "config.no_slug", text.Name("given", v.Name))
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
