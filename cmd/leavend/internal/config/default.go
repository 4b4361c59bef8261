package config

import (
	"log/slog"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/dough"
	"leavend/peak/plan"
)

// DefaultFile is where the config is looked for.
const DefaultFile = "/etc/leavend/leavend.toml"

// Default returns the configuration of an empty file: nothing to watch, no
// mat, the page and the broker on this board only.
func Default() *Config {
	return &Config{
		DataDir:  "/var/lib/leavend",
		Units:    Metric,
		Language: text.Fallback,
		Clock:    24,
		Timezone: time.Local,
		LogLevel: slog.LevelInfo,
		Mat:      defaultMat(),
		MQTT: MQTT{
			On: true, Listen: "127.0.0.1:1883", ClientID: "leavend",
			Prefix: "leavend", Discovery: true, DiscoveryPrefix: "homeassistant",
		},
		Web:       Web{On: true, Listen: "127.0.0.1:8420", TLS: TLSOff},
		Metrics:   Metrics{On: true, Listen: "127.0.0.1:9747"},
		Store:     Store{FullRateDays: 90, SyncEvery: time.Minute, BackupsKept: 3},
		Reminders: Reminders{FeedEvery: 24 * time.Hour, FridgeFeedEvery: 7 * 24 * time.Hour, CleanJarFeeds: 5, DiscardKeeps: 7 * 24 * time.Hour},
		Plan:      defaultPlan(),
	}
}

func defaultPlan() Plan {
	return Plan{
		AsleepFrom: 22*60 + 30, AsleepTo: 6*60 + 30, CoolestC: 22, WarmestC: 28, DoughOnMat: true, RoomC: 21,
		Ratios: plan.UsualRatios(), Recipe: plan.Recipes()[0].Name, Recipes: plan.Recipes(),
		Stops: dough.UsualStops(), FridgeC: 4,
	}
}

func defaultMat() Mat {
	return Mat{
		Output:    NoOutput,
		Plug:      PlugOutput{Relay: 1, EchoDeadline: 10 * time.Second},
		SetpointC: 25, SetpointMinC: 18, SetpointMaxC: 30, HysteresisC: 0.3,
		CutoffVesselC: 35, CutoffMatC: 45, DisagreeC: 3,
		MinOff: 2 * time.Minute, MaxOn: 4 * time.Hour, Rest: 20 * time.Minute, MaxDuty: 0.9, SwitchesPerHour: 6, SwitchLife: 100_000,
		StaleAfter: 2 * time.Minute, Lease: time.Minute, StartReadings: 3,
		GainWithin: 30 * time.Minute, Anticipate: true,
	}
}

// DefaultVessel returns a vessel of a kind with nothing else given.
func DefaultVessel(kind VesselKind) Vessel {
	v := Vessel{Kind: kind, Every: 10 * time.Second}
	if kind == Bowl {
		v.TargetRatio = 1.75
	}
	return v
}

// DefaultRecipient returns a recipient who is told what calls for a hand, and
// is not woken for less than a fault.
func DefaultRecipient() Recipient {
	return Recipient{
		Kinds:   NoticeKinds(),
		HeadsUp: 30 * time.Minute, RepeatEvery: 15 * time.Minute, Repeats: 3, MaxPerHour: 12,
	}
}
