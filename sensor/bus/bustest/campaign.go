package bustest

import (
	"context"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"testing/synctest"
	"time"
)

// RepliesVar is the environment variable that sets how many corrupted replies
// a campaign sends to each driver; without it there are 20,000, and a
// fifth of that under the race detector.
const RepliesVar = "LEAVEND_BUS_REPLIES"

// noise is one way replies are corrupted. next says whether reply n of a read
// is, and damage does it.
type noise struct {
	name   string
	damage func(rng *rand.Rand, r, before []byte)
	rate   float64 // share of replies; 0 means one reply of each read
}

func noises() []noise {
	random := func(rng *rand.Rand, r, _ []byte) { garbage(rng)(0, nil, r) }
	return []noise{
		{"every reply random", random, 1},
		{"half of the replies random", random, 0.5},
		{"one reply in sixteen random", random, 1.0 / 16},
		{"one bit of one reply", flip, 0},
		{"replies that repeat the one before", func(_ *rand.Rand, r, before []byte) { copy(r, before) }, 0.25},
		{"replies cut short", func(rng *rand.Rand, r, _ []byte) { fill(0xFF)(0, nil, r[rng.IntN(len(r)):]) }, 0.25},
		{"replies shifted by a byte", func(_ *rand.Rand, r, _ []byte) { copy(r, r[1:]) }, 0.25},
		{"replies all low or all high", func(rng *rand.Rand, r, _ []byte) { fill(byte(rng.IntN(2))*0xFF)(0, nil, r) }, 0.25},
	}
}

// flip inverts one bit.
func flip(rng *rand.Rand, r, _ []byte) { r[rng.IntN(len(r))] ^= 1 << rng.IntN(8) }

// Campaign sends corrupted replies to a driver. It never panics, and each
// value it accepts is the one that the chip measured in that very reading.
func Campaign(t *testing.T, open func(testing.TB) Rig) {
	replies := 20_000
	if Race {
		replies /= 5
	}
	if s := os.Getenv(RepliesVar); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatalf("%s: %v", RepliesVar, err)
		}
		replies = n
	}
	all := noises()
	for i, kind := range all {
		t.Run(kind.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { campaign(t, open(t), kind, replies/len(all), uint64(i)) })
		})
	}
}

// campaign corrupts the given number of replies in one way.
func campaign(t *testing.T, r Rig, kind noise, replies int, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 7))
	done, reads, accepted := 0, 0, 0
	before := make([]byte, 256)
	hit := -1
	r.Bus.Corrupt(func(_ uint16, _, reply []byte) {
		if len(reply) == 0 {
			return
		}
		hit--
		if kind.rate == 0 && hit == -1 || kind.rate > 0 && rng.Float64() < kind.rate {
			kind.damage(rng, reply, before)
			done++
		}
		copy(before, reply)
	})
	for ; done < replies; reads++ {
		time.Sleep(time.Millisecond) // A read that fails at once takes no time of its own.
		if reads > 20*replies+1000 {
			t.Fatalf("only %d replies of %d were corrupted in %d readings", done, replies, reads)
		}
		hit = 1 + rng.IntN(12)
		r.Vary(reads)
		v, err := r.Source.Read(context.Background())
		if err != nil {
			continue
		}
		accepted++
		if !r.Good(reads, v) {
			t.Fatalf("reading %d: accepted %+v, which the chip did not measure", reads, v)
		}
	}
	r.Bus.Corrupt(nil)
	t.Logf("%d replies corrupted in %d readings, of which %d were accepted, all of them right", done, reads, accepted)
	r.recovers(t, reads)
}
