package config

import (
	"log/slog"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/dough"
	"leavend/peak/plan"
	"leavend/sensor"
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
		Ratios: plan.UsualRatios(), Recipe: plan.Recipes()[0].Name,
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

// DefaultSensor returns a sensor of a chip with nothing but the chip given.
func DefaultSensor(chip Chip) Sensor {
	s := Sensor{Chip: chip}
	if measures(s, sensor.Temperature) {
		s.Place = sensor.AtVessel
	}
	switch chip {
	case DS18B20:
		s.Path = "/sys/bus/w1/devices"
	case VL53L1X:
		s.Bus, s.Address, s.ROI, s.Budget = 1, 0x29, [2]int{16, 16}, 100*time.Millisecond
	case VL53L4CD:
		s.Bus, s.Address, s.Budget = 1, 0x29, 100*time.Millisecond
	case VL53L0X:
		s.Bus, s.Address, s.Budget = 1, 0x29, 200*time.Millisecond
	case VL6180X:
		s.Bus, s.Address = 1, 0x29
	case Ultrasonic:
		s.AirC = 21
	case ADS1115NTC:
		s.Bus, s.Address = 1, 0x48
		s.SupplyChannel = -1
		s.SupplyV, s.SeriesOhm, s.NominalOhm, s.BetaK = 3.3, 10_000, 10_000, 3950
	case SHT3x, SHT4x:
		s.Bus, s.Address, s.Place = 1, 0x44, sensor.AtRoom
	case BME280, BMP280:
		s.Bus, s.Address, s.Place = 1, 0x76, sensor.AtRoom
	case Topic:
		s.MaxAge, s.Scale = time.Minute, 1
	case Recording:
		s.Speed = 1
	case Kitchen:
		s.Speed, s.Seed = 1, 1
	}
	return s
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

// measures reports whether a sensor gives readings of a quantity.
func measures(s Sensor, q sensor.Quantity) bool {
	switch s.Chip {
	case DS18B20, ADS1115NTC, BMP280:
		return q == sensor.Temperature
	case Hwmon:
		if channelOf(s.Input) == sensor.Humidity {
			return q == sensor.Humidity
		}
		return q == sensor.Temperature
	case VL53L1X, VL53L4CD, VL53L0X, VL6180X, Ultrasonic:
		return q == sensor.Distance
	case SHT3x, SHT4x, BME280:
		return q == sensor.Temperature || q == sensor.Humidity
	case IIO, Topic:
		return q == s.Quantity
	case Recording, Kitchen:
		return q == sensor.Temperature || q == sensor.Distance
	}
	return false
}

// Measures reports whether the sensor gives readings of a quantity.
func (s Sensor) Measures(q sensor.Quantity) bool { return measures(s, q) }
