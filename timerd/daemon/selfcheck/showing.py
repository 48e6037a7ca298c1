"""What the answers mean for what is seen and heard: screen, typeface, sound, speech. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from timerd.daemon.selfcheck.answers import Answers
from timerd.daemon.selfcheck.finding import Finding, mind, right, wrong


def screen(told: Answers) -> Iterator[Finding]:
    """A display, a library that can draw on it, and the typeface."""
    means = told.means
    if means.library is None:
        yield wrong("screen", f"pygame cannot be used: {means.trouble}", "pip install pygame-ce (never beside pygame)")
        return
    connected = [output.name for output in told.screens if output.there]
    allowed = any(output.there and output.allowed for output in told.screens)
    if told.desktop:
        yield right("screen", f"a desktop, by {means.library}")
    elif not connected:
        yield mind("screen", "no screen is connected", "the pedals and the sound do without one")
    elif "KMSDRM" not in means.drivers:
        do = "put pygame-ce in its place, or run the panel in a desktop"
        yield mind("screen", f"{means.library} cannot draw on the bare console (no KMSDRM)", do)
    elif not allowed:
        yield mind("screen", f"{', '.join(connected)}: {told.user} may not use it", "the groups video and render may")
    else:
        yield right("screen", f"{', '.join(connected)}, by {means.library}")
    if means.typeface is not None:
        yield wrong("fonts", f"the panel's typeface cannot be used: {means.typeface}", "install timerd again")
    else:
        yield right("fonts", "the panel's own typeface is there")


def sound(told: Answers) -> Iterator[Finding]:
    there = [card.name for card in told.cards if card.there]
    usable = [card.name for card in told.cards if card.there and card.allowed]
    if not there:
        do = "plug a loudspeaker or headphones with a card in; the screen's flash_edge does without"
        yield mind("sound", "there is no card to sound on", do)
    elif not usable:
        yield mind("sound", f"{', '.join(there)}: {told.user} may not use it", "the group audio may")
    else:
        yield right("sound", ", ".join(usable))


def speech(told: Answers) -> Iterator[Finding]:
    if told.speech is None:
        yield mind("speech", "espeak-ng is not installed: sounds tell everything", "apt install espeak-ng")
    elif told.speech.untried is not None:
        yield mind("speech", f"{told.speech.version}: {told.speech.untried}", "ask again when nothing else runs here")
    elif told.speech.trouble is not None:
        do = "see  espeak-ng --voices  and the bench's sound: voice:"
        yield mind("speech", f"{told.speech.version}: {told.speech.trouble}", do)
    else:
        yield right("speech", told.speech.version)
