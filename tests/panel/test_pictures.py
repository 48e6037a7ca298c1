"""The reference pictures are what is drawn. `python tests/panel/test_pictures.py` draws them anew: look at each."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pygame
import pygame.font
import pytest

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from panel.screens import all_shown

from timerd.cli import main
from timerd.panel.drawing import Painter
from timerd.panel.pictures import SIZES, draw_pictures

FOLDER = Path(__file__).parents[1] / "pictures" / "panel"
SIZE = (800, 480)
DRAWN_WITH = FOLDER / "drawn-with.json"
DIFFERS = 64
"""Levels: another version of the library that renders the type may smooth its edges otherwise."""
MOST_DIFFERING = 0.01


def drawn_with() -> dict[str, object]:
    """What renders the type, by its versions."""
    pygame.font.init()
    return {"pygame": pygame.version.ver, "SDL_ttf": list(pygame.font.get_sdl_ttf_version())}


def red(surface: pygame.Surface) -> bytes:
    return pygame.image.tobytes(surface, "RGB")[0::3]


def test_there_is_a_picture_of_every_screen_and_no_other() -> None:
    wanted = {f"{name}-{SIZE[0]}x{SIZE[1]}.png" for name in all_shown()}
    assert {path.name for path in FOLDER.glob("*.png")} == wanted


@pytest.mark.parametrize("name", [*all_shown()])
def test_the_picture_is_what_is_drawn(name: str) -> None:
    kept = pygame.image.load(str(FOLDER / f"{name}-{SIZE[0]}x{SIZE[1]}.png"))
    raw = pygame.image.tobytes(kept, "RGB")
    assert kept.get_size() == SIZE and not raw[1::3].strip(b"\0") and not raw[2::3].strip(b"\0")
    painter = Painter(SIZE)
    painter.draw(all_shown()[name])
    if json.loads(DRAWN_WITH.read_text()) == drawn_with():
        assert red(kept) == red(painter.canvas)
    else:
        pairs = zip(red(kept), red(painter.canvas), strict=True)
        assert sum(abs(a - b) > DIFFERS for a, b in pairs) <= MOST_DIFFERING * SIZE[0] * SIZE[1]


def test_pictures_are_drawn_into_a_folder_and_over_none_that_is_there(tmp_path: Path) -> None:
    some = {name: all_shown()[name] for name in ("ready-burn", "paused")}
    drawn = list(draw_pictures(some, tmp_path / "new", SIZES[:2], False))
    names = [f"{name}-{size}.png" for size in ("800x480", "1024x600") for name in some]
    assert [path.name for path in drawn] == names
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == sorted(names)
    drawn[1].write_bytes(b"mine")
    with pytest.raises(FileExistsError, match="is there already"):
        list(draw_pictures(some, tmp_path / "new", SIZES[:2], False))
    assert drawn[1].read_bytes() == b"mine"
    list(draw_pictures(some, tmp_path / "new", SIZES[:2], True))
    assert drawn[1].read_bytes().startswith(b"\x89PNG")


def test_the_command_draws_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["--home", str(tmp_path), "panel", "--pictures", str(tmp_path / "out"), "--size", "800x480"]
    assert main(argv) == 0
    count = len(all_shown())
    assert capsys.readouterr().out == f"{count} pictures of {count} screens in {tmp_path / 'out'}\n"
    assert {path.name for path in (tmp_path / "out").iterdir()} == {path.name for path in FOLDER.glob("*.png")}
    assert main(argv) == 1
    assert capsys.readouterr().err.endswith("another folder, or say --force\n")
    for size in ("80x480", "800x479", "800", "1e3x800"):
        with pytest.raises(SystemExit):
            main(["panel", "--size", size])
        assert "size of 800x480" in capsys.readouterr().err


def test_the_panel_without_a_display_says_so_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("timerd.panel.loop.FIRST_WORD_S", 0.0)
    assert main(["--home", str(tmp_path), "panel"]) == 1
    told = capsys.readouterr()
    assert told.out == "" and told.err.startswith("the panel finds") and len(told.err.splitlines()) == 1


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for old in FOLDER.glob("*.png"):
        old.unlink()
    for path in draw_pictures(all_shown(), FOLDER, (SIZE,), True):
        print(path.name)
    DRAWN_WITH.write_text(json.dumps(drawn_with()) + "\n")
