"""The hardware. The keeper's modules import nothing else of timerd.

What is where:

    keeper      the pure rules of the process that owns the lines; limits: what the bench allows; settling: what they
                want is done to the lines, by the loop, the simulated bench and tests alike; contacts (bounce,
                plugs), staying (lamps behind shutters), cueing (the cue line), sensing (what is seen of a lamp),
burst
    loop        that process: waits, spins over the last two milliseconds, does what the rules say
    lines       outputs on GPIO pins; pedals: contacts on GPIO pins (the only two that know gpiozero); chip: contacts
                on a chip's lines, read from the kernel itself, and the last off's lines; usb: those on foot
                switches' input devices
    pretended   lines in a file and feet from other processes: the simulated bench in real time
    note        the keeper's note of its last burst, for whoever comes after it
    lastoff     what darkens every line when nobody keeps them any more; ending: when it went dark then (pure)
    holding     who has a bench's lines: one process at a time
    setup       what the keeper is told of a bench, once
    gone        what the engine hears in a dead keeper's place (pure)
    simulated   the same rules on remembered lines, in virtual time, with faults to inject
    rehearsal   a plan played by scripted feet
    press       feet on a simulated bench, by command or by keys

Decided:

- **The keeper decides when it is dark.** A press cuts in the keeper, at its own edge; what it meant is for the
  engine to say afterwards. So a pause is as exact as a deadline, even while the daemon hangs.
- **Read back at once.** A line switched off is read in the same turn, and again for up to 5 ms; only then is `dark`
  reported. In virtual time that takes no time, so expected edges are exact.
- **A train of edges is one press until the contact was still for its lock-out**, by the edges' own times, however
  late they are heard. One that reads otherwise than its last edge told has moved: a kernel may be late with an edge
  (seen in the emulated one, under load), so that ends no train. A contact that has not rested for 0.5 s is read
  every 30 ms, so that it still darkens. A held light whose contact stands open at its moment waits until that
  closes.
- **A contact that bounces wider than the lock-out calls off what it has just started**: a second press in a lead-in
  darkens, whoever made it. That is the safe side, and told. If that goes on for longer than a held light's 0.2 s it
  is a foot that lifts, to all that can be known.
- **A keeper that starts reads every line first**, and again when a burst is asked for: no light beside one that is
  stuck.
- **The keeper lost** (killed, or its pipe cut) is a fault, not a pause: lines must be seen low before anything is
  lit.
- **A keeper told to stop** (SIGTERM) darkens by itself and puts the time down; only one that does not is killed.
  `timerd dark` asks first, for 0.1 s; the daemon, which has heard nothing for 0.5 s, kills at once.
- **The last off waits loaded**, one process a keeper: Python and the pin library take 0.15 s to load, ten times that
  on a small board. It waits for the keeper's own end, not for the daemon's word, so that it darkens where both are
  killed. It uses the chip's own calls: the pin library cannot say how a line was left. One that was killed itself is
  missed when it is needed; then another one is started, as `timerd dark` starts its own.
- **Who has the lines** holds a lock that dies with it, and writes its number beside that. `timerd dark` goes by the
  keepers' own command lines, not by the number: it finds one that hangs whatever was written down.
- **As root the last off becomes the run folder's owner** for all that it does to files there: it keeps its rights
  for the lines and for ending a keeper.
- **Pedals are read from the chip itself** where the pin library's pins are lines of one: lgpio holds each edge back
  by 0.5 ms and looks only every 0.5 ms (read in its source), 2,000 times a second for as long as it lives. The
  kernel's own events are stamped when they happen and wake the keeper's loop alone. `tests/measure/kernel_timing.py`
  has both: in the emulated kernel, run before all else, foot to light off took 1.4 ms against 4.4 (median), 2.3
  against 9.7 (p99), and an idle keeper woke 51 times a second against 1,512.
- **lgpio stays behind gpiozero; gpiod was weighed** (`tests/measure/pin_libraries.py`, in the emulated kernel; the
  least of seven starts with seven lines claimed, in processor time): Python alone 0.3 s, gpiozero on lgpio 1.9 s,
  gpiod without gpiozero 1.0 s, the chip's own calls 0.3 s; a write 132, 65 and 47 microseconds. Here, natively,
  imports took 12, 97, 41 and 13 ms. Most of it is gpiozero's own (92 ms), and that stays with any library behind it;
  gpiozero has no factory for gpiod, so that would be ours, tried on no board, where lgpio's is everybody's. gpiod
  has builds for Python 3.13, and so for Debian 13; for that alone it was not taken. Where time counts (pedals, the
  last off) the chip's own calls beat it in all that was measured and need no package: should lgpio ever have to go,
  they are what takes its place.
- **A line is claimed and let go with the chip's own resistor on**, as it rests: gpiozero's pins switch it off. The
  resistor outside is one of two then.
- **A light's end counts from when its line had been written**, not from when that was decided: so what is told as
  given is never short of what was asked, and no rest of some milliseconds is owed on a slow computer.
- **A sense input may differ for 0.2 s** from what its lamp is asked for, and light counts as seen for 0.05 s after
  it was: so the mains' pulses do as well as a level, and a failure is told within 0.25 s. A lamp must be seen, and
  seen dark, within 0.15 s of its line (checked in the bench's file). It is read once more before it is believed.
- **Simulated lines are a file of edges**: one line a change, appended in one system call, which is the change.
  Nothing can be killed between the light and the truth of it.
- **An unplugged pedal is not a let-up.** It counts as up, so that a held light goes out; but a let-up after 1 s
  would arm, or skip. It passes by the lock-out: dark at once.
- **No light burns that no pedal could put out**: when the last pedal that darkens is unplugged the light goes out,
  and none is taken until one is there.
- **Foot switches are looked for once a second**, by what lies in /dev/input and when it was last given to somebody:
  no device is opened while nothing has changed. Not within 0.25 s of a lamp's edge.
- **Whoever reports its end is watched no more, and told**: pedals that can no longer be read count as unplugged,
  with why; a light that no pedal is left to put out goes out. So do those that are ready a thousand times a second
  and have nothing to say: at real-time priority the loop would go round for them for ever (33,000 times a second).
- **EVIOCGKEY is asked at the start and after dropped events only**: it throws away what is still queued.
- **Two foot switches of one name cannot be told apart**: a contact is down while its key is, on any of them.
- **A lamp behind a shutter is no light, but hot.** It stays on through whatever leaves a sheet in hand (a pedal, the
  lease, the disk), since a pause must not cost a warm-up; it goes off where something is wrong or nobody keeps it,
  since then its shutter is all that stands before the paper; and by the keeper's own clock, half an hour after
  anybody was there. `timerd dark` puts it off: who says that wants it dark.
- **A shorter dose than a slow relay can give** is given as its shortest burst: some milliseconds too much at the
  most, and counted. One too short for the relay to close is counted as light: owed is counted from the most.
"""
