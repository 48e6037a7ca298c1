"""Files that a person wrote: what is changed, what stays, and how a file comes into its place."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from golden import Golden

from timerd.desk import keeping
from timerd.desk.keeping import GONE, edited, without, write_new, written
from timerd.places import shipped
from timerd.sheet.profile.reading import read
from timerd.sheet.profile.text import read_text

PRINT = """\
# The yard, from the gate
print: Quiet yard   # working title
paper: demo-resin-pearl
bench: two-station
# what lies on the easel
sheet: [127, 178]
magnification: 4.10

areas:   # face up
  wall: [[0, 0], [1, 0], [1, 0.3], [0, 0.35]]
# the hands
steps:
  - {base: plain, light: green, seconds: 9.00}   # judged dry
  # the wall is thin
  - burn: wall
    light: green
    stops: 5/6      # by the third sheet
    card: "straight edge"
# end
"""


def close(text: str) -> str:
    """A text without the blanks before its comments: how far right a comment stands is not kept to the blank."""
    return re.sub(r"(?m)(\S) +#", r"\1 #", text)


def test_a_value_is_replaced_and_every_line_else_stays() -> None:
    result = edited(PRINT, {("steps", 0, "seconds"): 11.25, ("steps", 1, "stops"): "3/4"})
    assert close(result) == close(PRINT.replace("9.00", "11.25").replace("5/6", "3/4"))


def test_nothing_to_change_leaves_the_text_as_it_is() -> None:
    assert close(edited(PRINT, {})) == close(PRINT)


def test_comment_lines_between_a_bare_map_and_one_with_a_comment_stay() -> None:
    """What the loader would forget; the text that is put in for it is nowhere in the result."""
    text = "steps:\n  - {a: 1, b: [2]}\n  # of the second\n\n  # and more\n  - {a: 3}   # by eye\n  - {a: 4}\n# end\n"
    assert edited(text, {("steps", 1, "a"): 5}) == text.replace("a: 3", "a: 5")
    assert edited(text, {("steps", 0, "a"): 5}) == text.replace("a: 1", "a: 5")


ITEMS = """\
# head
steps:
  # of the first
  - {a: 1}   # its own
  - b: 2     # the second's
    # within
    c: [3]
  # of the third

  - {d: 4}
# end
more:
- 5
"""


def test_items_are_taken_out_with_what_is_on_their_lines(golden: Golden) -> None:
    assert without(ITEMS, ("steps", 1)) == ITEMS.replace("  - b: 2     # the second's\n    # within\n    c: [3]\n", "")
    assert without(ITEMS, ("steps", 0), ("steps", 2)) == ITEMS.replace("  - {a: 1}   # its own\n", "").replace(
        "  - {d: 4}\n", ""
    )
    assert without(ITEMS) == ITEMS
    with pytest.raises(LookupError, match=r"steps\[3\] is not there"):
        without(ITEMS, ("steps", 3))
    with golden.raises(ValueError):
        without("steps: [{a: 1}, {b: 2}]\n", ("steps", 1))
    with golden.raises(ValueError):
        without("more:\n- 5\n", ("more", 0))


def test_a_new_key_stands_at_the_head_and_never_between_a_comment_and_what_it_is_about() -> None:
    result = edited(PRINT, {("origin",): "quiet-yard"})
    assert close(result) == close(PRINT.replace(
        "paper: demo-resin-pearl\n", "paper: demo-resin-pearl\norigin: quiet-yard\n"
    ))  # fmt: skip


def test_maps_above_a_new_key_are_made() -> None:
    assert edited("paper: mine\n", {("threshold", "flash"): 1.25}) == "paper: mine\nthreshold: {flash: 1.25}\n"
    text = "paper: mine\nthreshold: {flash: 1.6}   # by eye\n"
    assert close(edited(text, {("threshold", "green"): 3.0})) == close(text.replace("1.6", "1.6, green: 3"))


def test_a_key_is_taken_out_and_the_lines_below_it_stay(golden: Golden) -> None:
    text = "paper: mine\nbatch: B1   # old\n# tried in May\nsafelight_s: 180\n"
    golden(edited(text, {("batch",): GONE}))
    text = "paper: mine  # mine\nbatch: B1\n# tried in May\nsafelight_s: 180\n"
    golden(edited(text, {("batch",): GONE}))


def test_line_ends_and_the_mark_at_the_head_stay() -> None:
    text = "\ufeffpaper: mine\r\n# by eye\r\ndry_down: 8 %\r\n"
    assert edited(text, {("dry_down",): "6 %"}) == text.replace("8 %", "6 %")


def test_numbers_are_written_as_a_person_would() -> None:
    assert edited("a: 1\n", {("a",): 12.0}) == "a: 12\n"
    assert edited("a: 1\n", {("a",): 0.1 + 0.2}) == "a: 0.30000000000000004\n"
    assert edited("a: 1\n", {("a",): "12"}) == "a: '12'\n"


@pytest.mark.parametrize("path", sorted(shipped().glob("*/*.yaml")), ids=lambda path: path.stem)
def test_shipped_files_keep_their_comments_and_values(path: Path) -> None:
    text = path.read_text()
    profile = read(text.encode(), path.name)
    result = edited(text, {})
    assert read(result.encode(), path.name).value == profile.value
    assert [line.split("#", 1)[1] for line in text.splitlines() if "#" in line] == [
        line.split("#", 1)[1] for line in result.splitlines() if "#" in line
    ]
    assert len(result.splitlines()) == len(text.splitlines())


@pytest.mark.parametrize(
    ("text", "changes", "said"),
    [
        ("- 1\n", {("a",): 1}, "is not keys and values"),
        ("a: [1\n", {("a",): 1}, "cannot be read as YAML"),
        ("", {("a",): 1}, "is not keys and values"),
        ("a: 1\n", {("b",): GONE}, "b is not there"),
        ("a: [1]\n", {("a", 1): 2}, "a[1] is not there"),
        ("a: 1\n", {("a", "b"): 2}, "a.b is not there"),
        ("a: {b: 1}\n", {("a", 0, "c"): GONE}, "a[0] is not there"),
        ("a:\n  b: 1   # kept?\n", {("a",): 1}, "'# kept?'"),
    ],
)
def test_what_cannot_be_done_is_said(text: str, changes: dict[Any, object], said: str) -> None:
    with pytest.raises((ValueError, LookupError)) as told:
        edited(text, changes)
    assert said in str(told.value.args[0]) and "\n" not in str(told.value.args[0])


def test_a_change_that_would_reach_further_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tool that writes YAML reads some texts otherwise than the strict loader does; nothing may slip through."""
    text = "%YAML 1.1\n---\na: 1\nb: yes\n"
    try:
        assert read_text(edited(text, {("a",): 2}).encode(), "").data == {"a": 2, "b": "yes"}
    except ValueError as told:
        assert "more than was asked" in str(told)
    change = keeping._change

    def careless(whole: Any, place: Any, value: object) -> None:
        change(whole, place, value)
        whole["c"] = 3

    monkeypatch.setattr(keeping, "_change", careless)
    with pytest.raises(ValueError, match="more than was asked"):
        edited("a: 1\n", {("a",): 2})


def test_a_new_text_is_written_in_the_house_s_style(golden: Golden) -> None:
    made = {
        "print": "Strip", "sheet": [50, 200], "areas": {"patch 1": [[0, 0], [1, 0], [1, 1]]},
        "steps": [{"base": "patch 1", "seconds": 8.0, "card": "slit over patch 1, at the left"}],
    }  # fmt: skip
    text = written(made, {("sheet",): "a cut piece"}, "A strip.\nTwo lines.")
    golden(text.splitlines())
    assert read_text(text.encode(), "").data == made


# -- into place --------------------------------------------------------------------------------------------------


def test_a_new_file_is_there_whole_and_nothing_beside_it(tmp_path: Path) -> None:
    write_new(tmp_path / "a.yaml", "paper: mine\n", force=False)
    assert (tmp_path / "a.yaml").read_text() == "paper: mine\n"
    assert os.listdir(tmp_path) == ["a.yaml"]
    mask = os.umask(0)
    os.umask(mask)
    assert (tmp_path / "a.yaml").stat().st_mode & 0o777 == 0o666 & ~mask


def test_what_is_there_is_not_overwritten_without_being_told(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("old")
    with pytest.raises(FileExistsError, match="add --force"):
        write_new(path, "new", force=False)
    assert path.read_text() == "old" and os.listdir(tmp_path) == ["a.yaml"]
    path.chmod(0o640)
    write_new(path, "new", force=True)
    assert path.read_text() == "new" and path.stat().st_mode & 0o777 == 0o640
    assert os.listdir(tmp_path) == ["a.yaml"]


@pytest.mark.parametrize("force", [False, True])
def test_nothing_is_written_through_a_link(golden: Golden, tmp_path: Path, force: bool) -> None:
    """Whoever put it there may have meant another file: a map over a book."""
    (tmp_path / "a.yaml").write_text("old")
    link, dangling = tmp_path / "link.yaml", tmp_path / "dangling.yaml"
    link.symlink_to("a.yaml")
    dangling.symlink_to("nowhere.yaml")
    for path in (link, dangling):
        with pytest.raises(OSError) as told:
            write_new(path, "new", force)
        golden(told.value.strerror)
    assert (tmp_path / "a.yaml").read_text() == "old"
    assert sorted(os.listdir(tmp_path)) == ["a.yaml", "dangling.yaml", "link.yaml"]


@pytest.mark.parametrize("force", [False, True])
def test_folders_pipes_and_places_that_are_not_there_are_refused(tmp_path: Path, force: bool) -> None:
    (tmp_path / "folder.yaml").mkdir()
    os.mkfifo(tmp_path / "pipe.yaml")
    for name in ("folder.yaml", "pipe.yaml", "none/a.yaml", "a" * 300 + ".yaml"):
        with pytest.raises(OSError) as told:
            write_new(tmp_path / name, "new", force)
        assert told.value.filename == str(tmp_path / name) and told.value.strerror
    assert sorted(os.listdir(tmp_path)) == ["folder.yaml", "pipe.yaml"]


@pytest.mark.parametrize("step", ["fsync", "replace", "link"])
def test_a_disk_that_fails_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    path = tmp_path / "a.yaml"
    force = step != "link"
    if force:
        path.write_text("old")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, full)
    if step == "link":
        monkeypatch.setattr(os, "rename", full)
    with pytest.raises(OSError, match="No space left"):
        write_new(path, "new", force)
    assert os.listdir(tmp_path) == (["a.yaml"] if force else [])
    assert not force or path.read_text() == "old"


def test_a_file_that_comes_up_meanwhile_is_not_overwritten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.yaml"
    sync = os.fsync

    def somebody_else(descriptor: int) -> None:
        path.write_text("theirs")
        sync(descriptor)

    monkeypatch.setattr(os, "fsync", somebody_else)
    with pytest.raises(FileExistsError):
        write_new(path, "ours", force=False)
    assert path.read_text() == "theirs" and os.listdir(tmp_path) == ["a.yaml"]


def test_keeping_works_without_the_desk_extra() -> None:
    code = "import sys\n"
    code += "for name in ('numpy', 'scipy', 'matplotlib', 'PIL'): sys.modules[name] = None\n"
    code += "from timerd.desk.keeping import edited; print(edited('a: 1\\n', {('a',): 2}), end='')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "a: 2\n"


def test_long_lists_in_a_list_have_a_line_each() -> None:
    """A paper's deviations: some fifteen rows of some fifteen numbers; short ones stay in one line, as outlines do."""
    text = written({"curve": {"rows": [list(range(11)), [0.5] * 11], "points": [[0, 1], [2, 3]]}})
    assert text == (
        "curve:\n  rows:\n    - [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10]\n    - [" + ", ".join(["0.5"] * 11) + "]\n"
        "  points: [[0, 1], [2, 3]]\n"
    )
