"""The manual on a terminal: every page as plain text, and nothing in it that is not there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from timerd.cli import main
from timerd.cli.table import SUBJECTS, TOPICS

MANUAL = Path(__file__).parents[1] / "timerd" / "manual"


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_is_plain_text(topic: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help", topic]) == 0
    out, page = capsys.readouterr().out, (MANUAL / f"{topic}.md").read_text()
    assert out.splitlines()[0] == page.splitlines()[0].removeprefix("# ") and out.endswith("\n")
    assert not re.search(r"`|\*\*|<!--|!\[|^#|^\|", out, re.M)
    words = re.findall(r"\w+", re.sub(r"<!--.*?-->|^```\w*$", "", page, flags=re.M))
    assert sorted(re.findall(r"\w+", out)) == sorted(words), "nothing is lost"


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_points_at_what_comes_along_alone(topic: str) -> None:
    page = (MANUAL / f"{topic}.md").read_text()
    assert not re.search(r"!\[|\]\((?!https:)", page), "a wheel has no pictures, and a terminal no links"
    assert set(re.findall(r"timerd help (\w+)", page)) <= set(TOPICS)


def test_without_a_word_it_says_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help"]) == 0
    told = capsys.readouterr().out
    words = set(re.findall(r"[\w-]+", told))
    assert {*TOPICS, *(one.name for group in SUBJECTS.values() for one in group)} <= words
    assert max(map(len, told.splitlines())) <= 100


def test_a_command_s_help_is_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    for argv in (["help", "bath", "new"], ["bath", "new", "--help"]):
        with pytest.raises(SystemExit):
            main(argv)
    told = capsys.readouterr().out
    assert told[: len(told) // 2] == told[len(told) // 2 :] and told.startswith("usage: timerd bath new")


def test_what_there_is_no_help_about_is_answered_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help", "pedal"]) == 1
    assert capsys.readouterr().err == "there is no help about 'pedal': did you mean 'pedals'?\n"
