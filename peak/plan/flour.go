package plan

import "strings"

// FlourKind is the one word for a flour that several names mean, so that a feed,
// a recipe and what is in the house agree: "wheat" for white wheat flour, "whole
// rye" for wholemeal rye. A name that it does not know stays as it is.
func FlourKind(name string) string {
	plain := strings.TrimSuffix(strings.Join(strings.Fields(strings.ToLower(name)), " "), " flour")
	grain := strings.TrimPrefix(strings.TrimPrefix(strings.TrimPrefix(plain, "white "), "wholemeal "), "whole ")
	switch {
	case grain != "wheat" && grain != "rye" && grain != "spelt":
		return name
	case strings.HasPrefix(plain, "whole"):
		return "whole " + grain
	}
	return grain
}
