"""What is wrong within a bath line's file: baths out of order, names that lead nowhere, times that cannot be."""

from __future__ import annotations

from timerd.sheet.profile.bathfile import Bath, BathLine
from timerd.sheet.profile.faults import Place, did_you_mean
from timerd.sheet.profile.given import Found, WrittenLines


def bath_faults(line: BathLine, given: WrittenLines) -> Found:
    """All that is wrong with a bath line; what has no usable value is None and is passed over."""
    names: dict[str, int] = {}
    for i, bath in enumerate(line.baths or ()):
        if bath is None:
            continue
        here: Place = ("baths", i)
        if bath.name is not None and names.setdefault(bath.name, i) != i:
            yield (*here, "name"), f"there is a bath '{bath.name}' already: call one of them something else"
        yield from _times(bath, here, given)
        yield from _keys(bath, here, given)
        yield from _followed(line.baths, i, bath, given)
    if line.baths and all(bath is not None and bath.kind is not None for bath in line.baths):
        yield from _order(line.baths)
        yield from _white_light(line, given)


def _order(baths: list[Bath]) -> Found:
    """The developer comes first: what comes after it ends the development."""
    kinds = [bath.kind for bath in baths]
    if kinds[0] != "developer":
        yield ("baths", 0, "kind"), f"the first bath must be a developer, is a {kinds[0]}"
        return
    first_other = next((i for i, kind in enumerate(kinds) if kind != "developer"), None)
    if first_other is None:
        yield ("baths",), "has developers alone: what ends the development?"
        return
    for i, kind in enumerate(kinds):
        if kind == "developer" and i > first_other:
            yield ("baths", i, "kind"), f"a developer cannot come after the {kinds[first_other]}"


def _white_light(line: BathLine, given: WrittenLines) -> Found:
    """Nothing is fixed before the first fixer: white light is safe from no bath before it."""
    here: Place = ("white_light",)
    told = line.white_light
    if told is None or not given.usable(here):
        return
    kinds = [bath.kind for bath in line.baths]
    if "fixer" not in kinds:
        yield (
            here,
            "no bath of this line is a fixer: leave it out, white light is safe when the sheet is out of all baths",
        )
    elif given.lacks(here, "bath", "after_s"):
        yield here, "needs 'bath' or 'after_s': from which bath on, how many seconds in it"
    elif told.bath is not None and all(bath.name is not None for bath in line.baths):
        names = [bath.name for bath in line.baths]
        if told.bath not in names:
            yield (*here, "bath"), f"no bath of this line is called '{told.bath}'{did_you_mean(told.bath, names)}"
        elif names.index(told.bath) < (first := kinds.index("fixer")):
            there = names[first]
            yield (*here, "bath"), f"nothing is fixed in '{told.bath}': name the fixer, '{there}', or a bath after it"


def _times(bath: Bath, here: Place, given: WrittenLines) -> Found:
    known = None not in (bath.seconds, bath.drain_s, bath.drain)
    if known and bath.drain == "inside" and bath.drain_s >= bath.seconds:
        yield (
            (*here, "drain_s") if given.written(here, "drain_s") else here,
            f"{bath.drain_s:g} s of drain leave nothing of {bath.seconds:g} s: shorten it, or write drain: outside",
        )
    beat = bath.agitate
    if beat is not None and beat.every_s is not None and beat.for_s is not None and beat.for_s >= beat.every_s:
        yield (*here, "agitate", "for_s"), f"must be below every_s, {beat.every_s:g}: without a pause, write 0"


def _keys(bath: Bath, here: Place, given: WrittenLines) -> Found:
    if bath.factor is not None and bath.kind not in (None, "developer"):
        yield (*here, "factor"), f"is for a developer: in a {bath.kind} no image comes up"
    if bath.capacity is not None and given.lacks((*here, "capacity"), "fibre", "resin"):
        yield (*here, "capacity"), "needs 'fibre' or 'resin': sheets of 8x10 in a litre"
    if given.written(here, "cycles") and given.lacks(here, "followed_by"):
        yield (*here, "cycles"), "needs 'followed_by': which bath takes this one's place?"


def _followed(baths: list[Bath], i: int, bath: Bath, given: WrittenLines) -> Found:
    if bath.followed_by is None:
        return
    place: Place = ("baths", i, "followed_by")
    later = {other.name: other for other in baths[i + 1 :] if other is not None and other.name is not None}
    if bath.followed_by not in later:
        if all(given.usable(("baths", n, "name")) and given.usable(("baths", n)) for n in range(i + 1, len(baths))):
            yield place, f"no bath '{bath.followed_by}' comes after this one{did_you_mean(bath.followed_by, later)}"
    elif None not in (bath.kind, later[bath.followed_by].kind) and later[bath.followed_by].kind != bath.kind:
        yield place, f"'{bath.followed_by}' is a {later[bath.followed_by].kind}, this is a {bath.kind}"
    if given.lacks(("baths", i), "capacity"):
        yield ("baths", i), "needs 'capacity', to tell when the bath that follows takes its place"
