"""A start that is refused for want of lines leaves nothing behind that would stop the next one."""

from __future__ import annotations

from pathlib import Path

import pytest

from timerd.daemon.acceptance.kept import Kept
from timerd.daemon.keeping import NoKeeper
from timerd.daemon.serving import Daemon
from timerd.places import find, home, read_bytes
from timerd.sheet.profile.reading import read


def test_a_simulated_bench_after_one_whose_lines_were_not_to_be_had(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = find("bench", "two-station", None, home(None))
    bench = read(read_bytes(path), path.name, "bench")
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "nonsense")
    for _ in range(2):
        with pytest.raises(NoKeeper, match="pin factory 'nonsense'"):
            Daemon(bench, tmp_path, tmp_path / "run", simulated=False)
        with pytest.raises(NoKeeper, match="pin factory 'nonsense'"):
            Kept(bench.value, tmp_path / "run", simulated=False)
    daemon = Daemon(bench, tmp_path, tmp_path / "run", simulated=True)
    assert daemon.stands().state == "idle"
    daemon.close()
