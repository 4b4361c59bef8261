package text

import "strings"

// Has reports whether the catalogue knows a key.
func Has(key string) bool {
	_, ok := of(Fallback).sentences[key]
	return ok
}

// known is the sentence of a name that the trade has a word for, by its key; a name that
// a baker gave is written as he wrote it.
func known(group, own, name string) Message {
	key := group + strings.ReplaceAll(strings.ToLower(name), " ", "_")
	if Has(key) {
		return Say(key)
	}
	return Say(own, Name("name", name))
}

// Stage is the name of a step or stage of a bake: "bulk", or what the baker calls it.
func Stage(name string) Message {
	if strings.HasPrefix(name, "fold ") {
		return Say("plan.stage.fold")
	}
	return known("plan.stage.", "plan.stage_own", name)
}

// TheStage is the same within a sentence: "the bulk".
func TheStage(name string) Message { return known("plan.the.", "plan.the_own", name) }

// Ingredient is the name of what is weighed: "wheat", or what the baker calls it.
func Ingredient(name string) Message {
	return known("plan.ingredient.", "plan.ingredient_own", name)
}

// Sentences are several sentences, one behind the other.
func Sentences(all ...Message) Message {
	var out []Message
	for _, m := range all {
		if !m.IsZero() {
			out = append(out, m)
		}
	}
	switch len(out) {
	case 0:
		return Message{}
	case 1:
		return out[0]
	}
	return Say("list.sentences", List("all", out))
}
