"""The shipped profiles: all are read clean, lead to each other, and every slip made in them is found at its line."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from timerd.places import FOLDERS, find, shipped
from timerd.sheet.profile.faults import FileFault, Place, ProfileError, written_place
from timerd.sheet.profile.printfile import DevelopStep, Print, kinds_of
from timerd.sheet.profile.reading import MODELS, read
from timerd.sheet.profile.shape import part_at
from timerd.sheet.profile.text import read_text

SHIPPED = sorted(shipped().rglob("*.yaml"))
KIND_OF = {folder: kind for kind, folder in FOLDERS.items()}
each = pytest.mark.parametrize("path", SHIPPED, ids=lambda path: f"{path.parent.name}/{path.stem}")


def test_those_that_others_name_are_there() -> None:
    there = {f"{path.parent.name}/{path.stem}" for path in SHIPPED}
    assert there >= {
        *(
            "benches/two-station",
            "benches/one-lamp",
            "papers/demo-fibre-glossy",
            "baths/fibre-two-bath",
            "prints/breakwater",
        ),
    }
    counts = {folder: sum(name.startswith(f"{folder}/") for name in there) for folder in FOLDERS.values()}
    assert counts["prints"] >= 3 and counts["benches"] >= 2 and counts["papers"] >= 2 and counts["baths"] >= 1


@each
def test_a_shipped_profile_is_read_clean_and_is_called_as_its_file(path: Path) -> None:
    kind = KIND_OF[path.parent.name]
    profile = read(path.read_bytes(), path.name)
    assert profile.kind == kind
    assert read(path.read_bytes(), path.name, kind).value == profile.value
    if kind in ("bench", "paper", "bath"):
        assert getattr(profile.value, kind) == path.stem
    assert path.read_text().startswith("# "), "what it is, for the printer"


@pytest.mark.parametrize("path", [path for path in SHIPPED if path.parent.name == "prints"], ids=lambda path: path.stem)
def test_a_shipped_print_names_what_there_is(path: Path) -> None:
    value = read(path.read_bytes(), path.name, "print").value
    assert isinstance(value, Print)
    named = [("bench", value.bench), ("paper", value.paper)]
    named += [("bath", step.develop) for step in value.steps if isinstance(step, DevelopStep)]
    for kind, name in named:
        file = find(kind, name, path.parent, Path("/nowhere"))
        assert file.parent.parent.samefile(shipped())
        read(file.read_bytes(), file.name, kind)


# -- slips: every key and value of a profile, written block by block so that each has a line of its own --------------


def places(data: Any, here: Place = ()) -> Iterator[Place]:
    """Every place in a profile below the top."""
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in items:
        yield (*here, key)
        yield from places(value, (*here, key))


def at(data: Any, place: Place) -> Any:
    for part in place:
        data = data[part]
    return data


def faults_of(data: Any, kind: str) -> tuple[list[FileFault], list[str]]:
    """The faults of a profile when it is written anew, and the lines it was written in."""
    text = yaml.safe_dump(data, sort_keys=False, allow_unicode=True)
    with pytest.raises(ProfileError) as error:
        read(text.encode(), "p.yaml", kind)
    return error.value.faults, text.splitlines()


def load(path: Path) -> tuple[Any, str, random.Random]:
    data = read_text(path.read_bytes(), path.name).data
    assert isinstance(data, dict)
    return data, KIND_OF[path.parent.name], random.Random(f"{path.parent.name}/{path.stem}")


def keys(data: Any, kind: str) -> list[Place]:
    """The places whose key is a word of ours, not a name that the printer gave."""
    found = []
    for place in places(data):
        part = part_at(MODELS[kind], place[:-1], data)
        if part is not None and place[-1] in part.model_fields and place != (kind,):
            found.append(place)
    return found


def some(found: list[Place], chance: random.Random) -> list[Place]:
    return chance.sample(found, min(20, len(found)))


@each
def test_a_key_that_is_misspelt_is_found_at_its_line(path: Path) -> None:
    data, kind, chance = load(path)
    for place in some(keys(data, kind), chance):
        slip = copy.deepcopy(data)
        around, key = at(slip, place[:-1]), str(place[-1])
        wrong = key[:-1] + ("q" if key[-1] != "q" else "z")
        renamed = [(wrong if k == key else k, v) for k, v in around.items()]
        around.clear()
        around.update(renamed)
        faults, lines = faults_of(slip, kind)
        named = [fault for fault in faults if f"unknown key '{wrong}'" in fault.message]
        assert len(named) == 1 and named[0].place == written_place(place[:-1]), (place, faults)
        step = key in kinds_of({key: 1}) and place[:1] == ("steps",) and len(place) == 3
        assert f"{wrong}:" in lines[named[0].line - 1] or step, (place, faults)
        assert not any(f"'{key}' is missing" in fault.message for fault in faults), "one slip is told once"


@each
def test_a_key_that_is_left_out_is_missed_where_it_should_be(path: Path) -> None:
    data, kind, chance = load(path)
    needed = []
    for place in keys(data, kind):
        part = part_at(MODELS[kind], place[:-1], data)
        if part is not None and part.model_fields[str(place[-1])].is_required():
            needed.append(place)
    for place in some(needed, chance):
        slip = copy.deepcopy(data)
        del at(slip, place[:-1])[place[-1]]
        faults, lines = faults_of(slip, kind)
        fault = next(fault for fault in faults if fault.place == written_place(place[:-1]))
        step = place[0] == "steps" and len(place) == 3 and place[-1] in kinds_of(at(data, place[:-1]))
        wanted = {"has no kind", "dodge and leave", "'needs"} if step else {f"'{place[-1]}' is missing", "must be keys"}
        assert any(part in fault.message for part in wanted), (place, faults)
        if len(place) > 1:
            rest = list(at(slip, place[:-1]))
            assert not rest or any(f"{key}:" in lines[fault.line - 1] for key in (rest[0], place[-2])), (place, faults)


@each
def test_a_value_of_another_type_is_found_at_its_line(path: Path) -> None:
    data, kind, chance = load(path)
    for place in some([place for place in places(data) if place != (kind,) and place[:1] != ("sheet",)], chance):
        slip = copy.deepcopy(data)
        was = at(slip, place)
        at(slip, place[:-1])[place[-1]] = 7 if isinstance(was, dict | list) else {"what": "this"}
        faults, lines = faults_of(slip, kind)
        fault = next(fault for fault in faults if fault.place == written_place(place))
        assert fault.message.endswith(
            ("is 7", "found 7", "is {what: 'this'}", "found {what: 'this'}", "'base: soft', is 7")
        )
        if isinstance(place[-1], str):
            assert lines[fault.line - 1].lstrip("- ").startswith(f"{place[-1]}:"), (place, faults)
        else:
            assert lines[fault.line - 1].lstrip("- ").startswith(("7", "what: this")), (place, faults)
