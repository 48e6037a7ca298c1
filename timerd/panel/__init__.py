"""What the printer sees and hears in the dark: a process of its own, and the only place with pygame.

What is where:

    beats         what is heard of it and of what has happened: pure, from the status, the step and the settings
    words_to_say  what is spoken, and which words a plan will need
    agenda        statuses in, what is due out; time is handed in
    tones         the sounds themselves, as samples
    speech        words to files by espeak-ng, beforehand
    sound         the player: the agenda on the mixer, on a thread of its own
    trays       the trays as they are shown and heard, for view and agenda
    notice      what must be seen now, whatever is on the screen
    view        status + plan + bench + time to what is `shown`; burst (its numbers), listing (its steps), mapwords
                (the map's). Pure
    layout      rectangles for a kind of screen and a size. Pure
    palette     red alone, and its contrast
    drawing     a screen into an 8-bit surface; typeface (texts fitted, or shortened), mapping (the map)
    following   the daemon followed, lost and found again; window, loop: the display and the round
    means       what there is to show with, for the self-check; nothing is opened
    scenes      made-up statuses, one for every screen; pictures draws them
    fonts/      the typeface, with its licence

Decided:

- **Sound is worked out ahead and sounded by a thread of its own.** Frames are 67 ms apart, a beat may be 30 ms off.
  The thread hands each sound to the mixer 0.12 s early with the rest of the wait as silence in front; what was cut
  is stopped.
- **Where two sounds are due at once the more important is heard** (`_Rank` in `beats.py`): light, hands, notice,
  lead-in, numbers, last three, beat. Nearer than 0.1 s they are one to the ear; a word covers no sound, and none
  covers a word.
- **One sound for one happening.** A burst that ends early is `paused`, not `light off` too; a fault is a fault
  alone.
- **A beat that is late is not sounded**: a wrong beat is worse than none. That it is dark is told late too.
- **Up or down, a number is true at its instant.** Down it counts from the burst's end, off the beat's grid where the
  dose is no whole number, and takes one beat's place; it is never rounded onto a beat.
- **A number or announcement that does not fit its gap is spoken faster**, up to 350 words a minute; else its beat
  stays.
- **`say: speak` without a voice beeps.** Silence is chosen (`off`), never a fall-back.
- **The screen is drawn in bytes**: a surface of one byte a pixel whose palette is red cannot hold green or blue, so
  no drawing can go wrong. Dimming is another palette on the way to the display; texts always stand out as they were
  tested.
- **`Shown` is a value**: two that are equal look the same, so a frame is drawn only when something changes, and what
  is on the screen is tested as values, by rectangles, and as pictures.
- **States are told apart without colour**: the band is filled only while a light is lit; its word and the figure say
  the rest.
- **A light not told dark half a second after its end** is something to look at, and is shown even on a dark screen.
- **The map's ticks** are an area's outermost corners, counted from the top left as the sheet lies; of a frame they
  are those of its hole, which the card covers. Where no image falls is told by the step (a flash), not by the
  station.
- **The typeface** is DejaVu Sans Bold, from its own release 2.35. pygame's own is under the plain GPL (its name
  table names no exception), which the package's licence does not go with.
- **What is owed is told as the seconds that its light will burn**, each burst from cold, as the figure counts them
  down; what was given is told as dose, as in the book. With a plain lag the two add up to the step's own seconds.
- **A cue from the trays has a place of its own** on the screen: a heading and a figure belong together, and to one
  sheet.
"""

from __future__ import annotations

import os

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")  # before pygame is imported: only the commands print
