package heating

import (
	"leavend/cmd/leavend/internal/config"
	"leavend/control/plug"
)

// Recipe finds the words a plug understands.
func Recipe(p config.PlugOutput) (plug.Recipe, error) {
	if p.Recipe != config.Custom {
		return plug.ByName(string(p.Recipe), p.Topic, p.Relay)
	}
	return CustomRecipe(p).Recipe()
}

// CustomRecipe is a plug that the config describes itself.
func CustomRecipe(p config.PlugOutput) plug.Custom {
	return plug.Custom{
		CommandTopic: p.CommandTopic, On: p.On, Off: p.Off, TimerTopic: p.TimerTopic, Timer: p.Timer,
		StateTopic: p.StateTopic, StateField: p.StateField, StateOn: p.StateOn, StateOff: p.StateOff,
		AliveTopic: p.AvailableTopic, AliveText: p.AvailableText,
	}
}
