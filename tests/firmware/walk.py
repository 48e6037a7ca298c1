"""A guard on random walks, every change told in a line. CPython and MicroPython run this same file: what they print
must be the same, word for word. Plain Python without imports but the guard's."""

from guard import Guard


class Dice:
    """Numbers that are the same everywhere (a linear congruential generator, as in ISO C's example of rand)."""

    def __init__(self, seed):
        self.state = seed

    def below(self, limit):
        self.state = (self.state * 1103515245 + 12345) & 0x7FFFFFFF
        return (self.state >> 12) % limit


def steps(seed, count):
    """What the guard sees: (us, asked, beat, pressed), mostly as a bench would, now and then as nothing should."""
    dice = Dice(seed)
    made = []
    beat, edge_us, half_us, asked, pressed, asked_left, button_left = 0, 0, 2000, 0, False, 0, 0
    for _ in range(count):
        us = 150 + dice.below(300)
        if dice.below(8000) == 0:
            us = dice.below(70_000) - 500
        edge_us += us
        if dice.below(1000) == 0:
            half_us = 2000 if dice.below(4) else (400, 9_000, 40_000, 150_000, 900_000)[dice.below(5)]
        if edge_us >= half_us:
            beat, edge_us = 1 - beat, 0
        asked_left -= 1
        if asked_left < 0:
            if asked or dice.below(3) == 0:
                asked = 0
            else:
                asked = (1, 2, 4)[dice.below(3)] if dice.below(10) else (3, 7, 8)[dice.below(3)]
            asked_left = dice.below(1000) if dice.below(8) else dice.below(8)
        button_left -= 1
        if button_left < 0:
            pressed = not pressed
            button_left = dice.below(400)
        made.append((us, asked, beat, pressed))
    return made


def told(seed, count, longest_us):
    """The lines of one walk: when, and what goes out from then on."""
    guard = Guard(longest_us, fault=seed % 7)
    at, before, lines = 0, None, []
    for us, asked, beat, pressed in steps(seed, count):
        guard.step(us, asked, beat, pressed)
        at += us
        now = (guard.passed, guard.master, guard.fault, guard.led)
        if now != before:
            lines.append(f"{at} passed {now[0]} master {now[1]} fault {now[2]} led {now[3]}")
            before = now
    return lines


def locked(lock, unlock, seed, count, longest_us):
    """Walk with the heap locked: MicroPython raises MemoryError if a step makes anything new there."""
    guard = Guard(longest_us)
    made = steps(seed, count)
    lock()
    try:
        for us, asked, beat, pressed in made:
            guard.step(us, asked, beat, pressed)
    finally:
        unlock()
