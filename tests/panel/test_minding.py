"""What there is to mind about the book: on the idle screen as long as it is so, and said once."""

from __future__ import annotations

from panel.telling import but, status

from timerd.panel.view import view
from timerd.panel.words_to_say import change_words, present_words
from timerd.sheet.reason import NoInk, NotCopied, SheetDamaged

LOADED = {"print": "Quiet yard", "sheets_left": 2}
DAMAGED = "sheet 12 is damaged in the book: it is not offered. see book check"
NO_COPY = "the book is not copied: the folder is not there"


def test_it_is_said_once_after_the_rest_and_each_new_one_by_itself() -> None:
    first = status(**LOADED, mind=(SheetDamaged(12),))
    assert change_words(None, first, None) == f"{present_words(first, None)}. {DAMAGED}"
    assert change_words(first, but(first, now=101.0), None) is None
    more = but(first, mind=(SheetDamaged(12), NotCopied("the folder is not there")), now=102.0)
    assert change_words(first, more, None) == NO_COPY
    assert change_words(more, but(first, now=103.0), None) is None, "what is mended needs no word"


def test_nothing_is_said_of_it_while_a_sheet_is_under_way() -> None:
    before, after = (
        status(state="ready", **LOADED),
        but(status(state="ready", **LOADED), mind=(NotCopied("the folder is not there"),), now=101.0),
    )
    assert change_words(before, after, None) is None
    assert NO_COPY not in view(after, None, None, 101.0, False).notice


def test_it_stands_on_every_idle_screen_below_what_is_more_urgent() -> None:
    both = status(**LOADED, mind=(SheetDamaged(12), NotCopied("the folder is not there")))
    assert view(both, None, None, 100.0, False).notice == f"mind: {DAMAGED}; {NO_COPY}"
    assert (
        view(but(both, ink=NoInk("the disk is full")), None, None, 100.0, False).notice == "no light: the disk is full"
    )
    assert view(status(**LOADED, mind=[]), None, None, 100.0, False).notice == ""
