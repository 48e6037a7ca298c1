"""Where files are looked for, and what is said when they are not there."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from golden import Golden

from timerd import places
from timerd.places import FOLDERS, MOST_BYTES, cache_folder, find, home, read_bytes, shipped


def put(path: Path, text: str = "x\n") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


def test_home_is_what_is_given_else_told_else_the_users(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("TIMERD_HOME", "/told")
    monkeypatch.setenv("XDG_DATA_HOME", "/data")
    assert home("/given") == Path("/given")
    assert home("~/given") == tmp_path / "given"
    assert home(None) == home("") == Path("/told")
    monkeypatch.setenv("TIMERD_HOME", "")
    assert home(None) == Path("/data/timerd")
    monkeypatch.setenv("XDG_DATA_HOME", "relative")
    assert home(None) == tmp_path / ".local" / "share" / "timerd"
    monkeypatch.delenv("XDG_DATA_HOME")
    assert home(None) == tmp_path / ".local" / "share" / "timerd"


def test_every_kind_has_its_folder_among_the_shipped() -> None:
    for kind, folder in FOLDERS.items():
        assert (shipped() / folder).is_dir(), kind
    assert find("print", "breakwater", None, Path("/nowhere")) == shipped() / "prints" / "breakwater.yaml"


def test_a_name_is_sought_beside_the_print_then_at_home_then_among_the_shipped(golden: Golden, tmp_path: Path) -> None:
    beside, at_home = tmp_path / "mine" / "prints", tmp_path / "home"
    name = "demo-fibre-glossy"
    assert find("paper", name, beside, at_home) == shipped() / "papers" / f"{name}.yaml"
    own = put(at_home / "profiles" / "papers" / f"{name}.yaml")
    assert find("paper", name, beside, at_home) == own
    in_the_folder = put(beside / f"{name}.yaml", f"paper: {name}\n")
    assert find("paper", name, beside, at_home) == in_the_folder
    with golden.raises(LookupError):
        find("bench", name, beside, at_home)
    in_the_folder.write_text(f"print: A print\npaper: {name}\n")
    assert find("paper", name, beside, at_home) == own, "a print of that name is no paper"
    below = put(beside / "papers" / f"{name}.yaml")
    assert find("paper", name, beside, at_home) == below
    near = put(tmp_path / "mine" / "papers" / f"{name}.yaml")
    assert find("paper", name, beside, at_home) == near.parent.parent / "papers" / f"{name}.yaml"
    assert find("paper", name, None, at_home) == own, "typed, there is no print to look beside"
    (tmp_path / "mine" / "papers" / f"{name}.yaml").unlink()
    (tmp_path / "mine" / "papers" / f"{name}.yaml").mkdir()
    below.unlink()
    assert find("paper", name, beside, at_home) == own, "a folder is no file"


@pytest.mark.parametrize("typed", ["a/b", "./x", "/etc/passwd", "x.yaml", "X Y.yml", "../x", "-/"])
def test_what_is_typed_may_be_a_path(typed: str) -> None:
    assert find("print", typed, None, Path("/nowhere")) == Path(typed)


@pytest.mark.parametrize(
    "name",
    [
        "a/b",
        "../papers/x",
        "/etc/passwd",
        "x.yaml",
        "..",
        ".",
        "",
        "X",
        "a b",
        "a_b",
        "ä",
        "a\0",
        "a\x1b[31m",
        "a" * 81,
        "a\n",
    ],
)
def test_a_name_in_a_file_is_never_a_path(name: str, tmp_path: Path) -> None:
    with pytest.raises(LookupError) as error:
        find("paper", name, tmp_path / "prints", tmp_path)
    (message,) = error.value.args
    assert "no name of a paper" in message
    assert message.isprintable() and len(message) < 200


def test_where_was_looked_is_told_from_here(golden: Golden, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path / "mine" / "one.yaml", "bench: one\nprint: x\n")
    put(tmp_path / "mine" / "two.yaml", "bench: two\n")
    (tmp_path / "benches").mkdir()
    monkeypatch.chdir(tmp_path / "mine")
    with pytest.raises(LookupError) as error:
        find("bench", "zzz", tmp_path / "mine", Path("/nowhere"))
    golden(error.value.args[0])


def test_what_is_not_there_is_told_with_what_is(golden: Golden, tmp_path: Path) -> None:
    def said(kind: str, name: str) -> str:
        with pytest.raises(LookupError) as error:
            find(kind, name, None, tmp_path)
        return str(error.value.args[0])

    golden(said("bench", "two-statoin"))
    golden(said("bench", "zzz"))
    for i in range(30):
        put(tmp_path / "profiles" / "baths" / f"line-{i:02}.yaml")
    put(tmp_path / "profiles" / "baths" / "Not A Name\x1b.yaml")
    put(tmp_path / "profiles" / "baths" / "notes.txt")
    there = said("bath", "zzz")
    assert there.isprintable() and "Not" not in there
    golden(there)


def test_bytes_are_read_up_to_one_more_than_a_profile_may_have(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_bytes(b"\xff\x00a")
    assert read_bytes(path) == b"\xff\x00a"
    path.write_bytes(b"a" * (MOST_BYTES + 100))
    assert len(read_bytes(path)) == MOST_BYTES + 1
    link = tmp_path / "link.yaml"
    link.symlink_to(path)
    assert len(read_bytes(link)) == MOST_BYTES + 1


def refusal(path: Path) -> tuple[int | None, str | None]:
    with pytest.raises(OSError) as error:
        read_bytes(path)
    assert error.value.filename == str(path)
    return error.value.errno, error.value.strerror


def test_what_is_no_plain_file_is_refused_and_not_waited_for(golden: Golden, tmp_path: Path) -> None:
    golden(refusal(tmp_path / "none.yaml"))
    assert refusal(tmp_path) == (errno.EISDIR, "is a folder, not a file")
    put(tmp_path / "file")
    golden(refusal(tmp_path / "file" / "x.yaml"))
    os.mkfifo(tmp_path / "fifo.yaml")
    golden(refusal(tmp_path / "fifo.yaml"))
    golden(refusal(Path("/dev/zero")))
    (tmp_path / "round").symlink_to(tmp_path / "round")
    golden(refusal(tmp_path / "round"))
    golden(refusal(tmp_path / ("n" * 300)))
    assert refusal(Path("a\0b")) == (errno.EINVAL, "is not a file's name")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_what_may_not_be_read_is_told(tmp_path: Path) -> None:
    path = put(tmp_path / "x.yaml")
    path.chmod(0)
    assert refusal(path) == (errno.EACCES, "you are not allowed to read it")


def test_what_can_be_made_again_is_kept_in_the_users_cache(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", "/cache")
    assert cache_folder() == Path("/cache/timerd")
    for told in ("", "relative"):
        monkeypatch.setenv("XDG_CACHE_HOME", told)
        assert cache_folder() == tmp_path / ".cache" / "timerd"


def test_a_print_that_lies_here_is_named_by_its_file(
    golden: Golden, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.yaml").write_text("print: Mine\n")
    with golden.raises(LookupError):
        find("print", "mine", None, tmp_path / "home")


def test_the_services_run_folder_is_known_to_be_closed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    service = tmp_path / "timerd"
    monkeypatch.setattr(places, "_SERVICE", service)
    monkeypatch.delenv("TIMERD_HOME", raising=False)
    monkeypatch.setenv("XDG_RUNTIME_DIR", "")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert places.closed_service() is None and places.run_folder(None) == service / "run"
    (service / "run").mkdir(parents=True)
    assert places.closed_service() is None and places.run_folder(None) == service
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert places.closed_service() == service and places.run_folder(None) == service / "run"
