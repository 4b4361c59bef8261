// Package flour reads what a baker calls a flour: whether it is rye, which rises and
// ends otherwise than wheat, and whether the bran is in it.
//
//	flour.Rye("Roggenmehl Type 1150") // true
//	flour.Whole("T150")               // true
//
// It knows the words of some languages and the numbers of the mills: German and Austrian
// types, and French T numbers. A type is about the ash of 100 g of dry flour in mg, a T
// number that of 10 g. The words and numbers are common practice, from memory. Of a mixed
// flour the grain that is named first counts, for it is the larger part. What the package
// does not know is neither rye nor whole.
package flour

import (
	"strings"
	"unicode"
)

// stems begin a word for a grain, and long ones may stand within a compound.
var stems = []struct {
	stem, grain string
}{
	{"rye", rye}, {"rogge", rye}, {"seigle", rye}, {"segale", rye}, {"centeno", rye}, {"centeio", rye}, {"pumpernickel", rye},
	{"rugm", rye}, {"rugb", rye}, {"rugs", rye}, {"råg", rye}, {"ruis", rye}, {"żytni", rye}, {"zytni", rye}, {"žitn", rye}, {"ржан", rye},
	{"buckwheat", other}, {"buchweizen", other},
	{"wheat", wheat}, {"weizen", wheat}, {"froment", wheat}, {"frumento", wheat}, {"trigo", wheat}, {"tarwe", wheat}, {"hvete", wheat},
	{"hvede", wheat}, {"vete", wheat}, {"pszen", wheat}, {"blé", wheat},
	{"spelt", other}, {"dinkel", other}, {"épeautre", other}, {"epeautre", other}, {"farro", other}, {"emmer", other}, {"einkorn", other},
}

const rye, wheat, other = "rye", "wheat", "other"

// longStem is from which length on a stem is looked for within a word too, as in
// "Biovollkornroggenmehl".
const longStem = 5

// ryeNumbers are those that only flour of rye has.
var ryeNumbers = map[string]bool{
	"815": true, "997": true, "1150": true, "1370": true, "1740": true, "1800": true, // German
	"r500": true, "r960": true, "r2500": true, // Austrian
	"t70": true, "t85": true, "t130": true, "t170": true, // French
}

// wholeNumbers are those of flour with all its bran, or nearly.
var wholeNumbers = map[string]bool{"1600": true, "1700": true, "1740": true, "1800": true, "r2500": true, "t150": true, "t170": true}

// wholeStems mark a flour with the bran in it.
var wholeStems = []string{"whole", "bran", "integral", "intégral", "graham", "vollkorn", "schrot", "complet", "volkoren", "fullkorn", "fuldkorn", "razow", "целн"}

// Rye reports whether a flour is rye, or mostly.
func Rye(name string) bool {
	words := wordsOf(name)
	for _, w := range words {
		if g := grainOf(w); g != "" {
			return g == rye
		}
	}
	for _, w := range words {
		if ryeNumbers[w] {
			return true
		}
	}
	return false
}

// Whole reports whether the bran is in a flour.
func Whole(name string) bool {
	for _, w := range wordsOf(name) {
		if wholeNumbers[w] {
			return true
		}
		for _, stem := range wholeStems {
			if strings.Contains(w, stem) {
				return true
			}
		}
	}
	return false
}

// grainOf is the grain that a word names; "" for none.
func grainOf(word string) string {
	for _, s := range stems {
		if strings.HasPrefix(word, s.stem) || len(s.stem) >= longStem && strings.Contains(word, s.stem) {
			return s.grain
		}
	}
	return ""
}

// wordsOf splits a name into words in small letters. A letter and the number behind it
// are one: "T 130" is "t130".
func wordsOf(name string) []string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for i := 1; i < len(words); i++ {
		if w := words[i-1]; (w == "t" || w == "r") && unicode.IsDigit(rune(words[i][0])) {
			words[i] = w + words[i]
		}
	}
	return words
}
