"""What there is of each kind of file, and where it lies."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from timerd.cli import main
from timerd.places import names_of, shipped


@pytest.mark.parametrize(
    ("kinds", "kind"), [("prints", "print"), ("benches", "bench"), ("papers", "paper"), ("baths", "bath")]
)
def test_all_that_come_along_and_the_printer_s_own_are_listed(
    kinds: str, kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One's own stands in place of one of the same name that comes along, and one with faults is listed too."""
    own = tmp_path / "profiles" / kinds
    own.mkdir(parents=True)
    first = names_of(kind, tmp_path)[0]
    (own / f"{first}.yaml").write_bytes((shipped() / kinds / f"{first}.yaml").read_bytes())
    (own / "broken.yaml").write_text("nothing: here\n")
    assert main(["--home", str(tmp_path), "list", kinds, "--json"]) == 0
    found = {one["name"]: one for one in json.loads(capsys.readouterr().out)}
    assert list(found) == names_of(kind, tmp_path)
    for name, one in found.items():
        mine = name in (first, "broken")
        path = (own if mine else shipped() / kinds) / f"{name}.yaml"
        assert (one["file"], one["where"] == "comes along") == (str(path), not mine)
        assert one["says"].startswith("has faults") == (name == "broken")
    assert main(["--home", str(tmp_path), "list", kinds]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines[1:-2]] == list(found)
    assert lines[-1] == f"your own lie in {own}"


def test_another_kind_is_answered_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["list", "paper"])
    assert "did you mean 'papers'?" in capsys.readouterr().err
