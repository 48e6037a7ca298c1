"""What is seen and heard of pedals that are unplugged, of a lamp that warms up, and of a bench with one pedal."""

from __future__ import annotations

from golden import Golden
from panel.telling import but, status

from timerd.panel.beats import change_sounds
from timerd.panel.view import view
from timerd.panel.words_to_say import change_words, present_words
from timerd.places import find, home, read_bytes
from timerd.sheet.profile.reading import read
from timerd.sheet.reason import LineNotLow

LOADED = {"print": "Quiet yard", "sheets_left": 2}
OUT = {"unplugged": {"go": "is unplugged"}}


def test_unplugged_and_plugged_in_again_are_told_once_each(golden: Golden) -> None:
    before, out, again = status(**LOADED), status(**LOADED, **OUT, now=101.0), status(**LOADED, unplugged={}, now=102.0)
    assert change_words(before, out, None) == "pedal go is unplugged"
    assert change_words(out, but(out, now=101.5), None) is None
    golden(change_words(out, again, None))
    assert [(heard.at, heard.sound) for heard in change_sounds(before, out)] == [(101.0, "warning")]
    assert change_sounds(out, but(out, now=101.5)) == [] == change_sounds(out, again)


THREE = {"unplugged": dict.fromkeys(("go", "end", "third"), "is unplugged")}


def test_three_that_are_unplugged_are_all_named(golden: Golden) -> None:
    before, out = status(**LOADED), status(**LOADED, **THREE, now=101.0)
    golden(change_words(before, out, None))
    golden(view(out, None, None, 100.0, False).notice)
    one_back = status(**LOADED, unplugged={"end": "is unplugged", "third": "is not free"}, now=102.0)
    golden(view(one_back, None, None, 100.0, False).notice)
    more = status(**LOADED, **THREE, now=103.0)
    golden(change_words(status(**LOADED, **OUT), more, None))


def test_it_stands_on_the_screen_until_it_is_plugged_in() -> None:
    assert view(status(**LOADED, **OUT), None, None, 100.0, False).notice == "pedal go is unplugged"
    assert view(status(**LOADED, unplugged={}), None, None, 100.0, False).notice == ""


def test_a_lamp_that_warms_up_is_counted_down_on_the_screen_and_told_when_it_is_warm(golden: Golden) -> None:
    warming = status(**LOADED, warming={"lamp": "head", "until": 140.0})
    assert [view(warming, None, None, now, False).notice for now in (100.0, 139.5, 140.0)] == [
        "the lamp warms up, 40 s", "the lamp warms up, 1 s", "",
    ]  # fmt: skip
    golden(present_words(warming, None))
    warm = status(**LOADED, now=140.0, said={"number": 1, "what": "lamp warm", "at": 140.0})
    assert change_words(warming, warm, None) == "the lamp is warm"
    assert [(heard.at, heard.sound) for heard in change_sounds(warming, warm)] == [(140.0, "ready")]


def test_a_bench_with_one_pedal_is_told_nothing_of_the_other(golden: Golden) -> None:
    path = find("bench", "two-station", None, home(None))
    two = read(read_bytes(path), path.name, "bench").value
    one = two.model_copy(update={"pedals": two.pedals.model_copy(update={"end": []})})
    offered = status(
        unfinished={"sheet": 3, "step": None, "given": None, "given_lo": None, "owed": None, "aside": None}
    )
    fault = status(state="fault", reason=LineNotLow(), sheet=3)
    seen = [
        [line for told in (offered, fault) for line in view(told, None, bench, 100.0, False).lines]
        for bench in (two, one)
    ]
    assert [any(line.startswith(("end", "both", "Both")) for line in lines) for lines in seen] == [True, False]
    golden(seen[1])
