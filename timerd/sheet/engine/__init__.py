"""The heart: events in, actions out, by one table of states. No clock, no line, no file.

`machine.Engine` is the machine, `table` the table of states and pedals, `events` what goes in and out, `feet` turns
a pedal's edges into presses, holds and both pedals held.

Decided:

- **Resume gives what is owed, never a replay.** Paper adds up light. After a crash owed is counted from the most
  that may have been given.
- **The length travels with the command.** No queue, disk or screen stands between a deadline and the line.
- **Progress is a fold.** The engine keeps no counters beside the records, so the two cannot drift apart.
- **The safelight follows the state**: dark in `lead-in` (or from the light on, as the file says) and `exposing`,
  dark between the lifts of a held step, lit everywhere else. The keeper puts it back by itself, and holds it dark
  only as long as the daemon renews.
- **`go` at a prompt acts even with `end` down**; a start does not. A let-up acts only if no other pedal was down
  meanwhile.
- **Idle with a finished sheet not yet in its baths**: no viewing light; a short press of `go` says it is there, as
  it does at `done`.
- **A fault at a light's end** counts the light as burning until the line reads low: given lies between the two.
- **Too soon** holds for 0.7 s after any light that went out without a press (the lease's end too), and in `paused`
  for `end` as well: a foot that meant to pause ends no step. It holds as long for `go` after a foot has put out or
  called off the light of a `press` step, and after a prompt: a double tap, on whatever contacts.
- **One press has one meaning, on a worn contact too.** The contact that made dark is not taken for 0.7 s, and for
  0.35 s after it came up: trains of 1 to 300 ms are tried. A `go` is not taken for 0.35 s after its own let-up where
  it acts on its press: a foot that leaves after a hold, or from a pedal on which it rested, starts nothing. Three
  things are left out: a held step that is at hand goes on following the foot as quickly as it moves (after a prompt
  it is not followed yet); whatever darkens does so at once; and after a tap the press is still to come. All of this
  is the engine's: the keeper cuts at every press.
- **A tap is counted as worn at every third**, contact by contact, since the daemon's start: a foot that brushes a
  pedal makes one now and then, a contact with dirt on it many. It is a record (`worn`), spoken, and shown for 5 s.
- **A burst begun and not ended in the records counts whole** until its end is known: owed is counted from the most.
- **The rest of a batch** is what `loaded` and the `armed` since leave; a `stopped` since then ends it. Its plan is
  the last armed sheet's, so of a batch of which none was begun nothing is left.
- **A restart in a fault is still a fault**; it is cleared by both pedals, and by a fresh reading of every line.
- **`ready` after a power cut** means that up to 1.0 s may have been given: a press may have lit the light with
  nothing about it on disk yet. It is said, and owed is counted from it.
- **A refusal is not a reason**: `refused` is what was asked and not done, until something is taken; `reason` is why
  the bench stands as it does, until it stands otherwise. A fault's reason is kept from both.
- **A warm-up refuses, and does not wait by itself**: a press that acts 40 s later is a press forgotten. That the
  lamp is warm is told.
"""
