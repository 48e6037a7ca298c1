"""The installer on a folder that stands for a system's root: what it says, does, leaves and takes away again."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from firmware.interrupted import commands, killed_at
from firmware.live import Live
from firmware.machine import ROOT, SOURCE, Machine
from golden import Golden
from outside import need

USERS = {"etc/passwd", "etc/passwd-", "etc/group", "etc/group-", "etc/shadow", "etc/shadow-", "etc/gshadow",
         "etc/gshadow-", "etc/.pwd.lock"}  # fmt: skip
"""What the system keeps its users in."""
MINE = {
    "etc/systemd/system/timerd.service": "644", "etc/systemd/system/timerd-panel.service": "644",
    "etc/systemd/system.conf.d/timerd.conf": "644", "etc/sysusers.d/timerd.conf": "644",
    "etc/tmpfiles.d/timerd.conf": "644", "etc/udev/rules.d/70-timerd.rules": "644", "usr/local/bin/timerd": "755",
}  # fmt: skip
FROM = {
    "system.conf.d/timerd.conf": "watchdog.conf", "sysusers.d/timerd.conf": "sysusers.conf",
    "tmpfiles.d/timerd.conf": "tmpfiles.conf", "bin/timerd": "command.sh",
}  # fmt: skip


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    need(shutil.which("systemd-sysusers") is not None, "systemd (systemd-sysusers)", "apt install systemd")
    return Machine(tmp_path)


def done(machine: Machine, *options: str, **env: str) -> str:
    """An installation that succeeds; what it said it changed."""
    ran = machine.install("--yes", *options, **env)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout.partition("changing:\n")[2]


def refused(machine: Machine, *options: str, **env: str) -> str:
    """An installation that changes nothing; why."""
    before = machine.tree()
    ran = machine.install("--yes", *options, **env)
    assert ran.returncode == 1 and machine.tree() == before
    assert len(ran.stderr.splitlines()) == 1 and ran.stderr.startswith("install.sh: ")
    return ran.stderr.removeprefix("install.sh: ").strip()


def expected(machine: Machine, before: dict[str, str], name: str, bench: str) -> dict[str, str]:
    """The whole tree that an installation leaves, users apart."""
    tree = {path: text for path, text in before.items() if path not in USERS}
    for path, mode in MINE.items():
        source = next((file for end, file in FROM.items() if path.endswith(end)), path.rpartition("/")[2])
        tree[path] = f"{mode} {(SOURCE / source).read_text()}" if "udev" not in path else tree.get(path, "")
    rules = (SOURCE / "udev.rules").read_text().splitlines(keepends=True)
    tree["etc/udev/rules.d/70-timerd.rules"] = "644 " + "".join(line for line in rules if "#PEDAL" not in line)
    for unit in ("timerd.service", "timerd-panel.service"):
        tree[f"etc/systemd/system/multi-user.target.wants/{unit}"] = f"-> /etc/systemd/system/{unit}"
    tree["etc/timerd/bench"] = f"644 BENCH={bench}\n"
    tree["opt/timerd/current"] = f"-> {name}"
    tree[f"opt/timerd/{name}/complete"] = "644 "
    for program in ("python", "timerd"):
        tree[f"opt/timerd/{name}/bin/{program}"] = machine.tree()[f"opt/timerd/{name}/bin/{program}"]
    begin, end = "# timerd: from here, by install.sh; put nothing of your own in here\n", "# timerd: to here\n"
    config = f"{begin}{(SOURCE / 'config.txt').read_text()}{end}"
    tree["boot/firmware/config.txt"] = before["boot/firmware/config.txt"] + config
    words = [word for word in (SOURCE / "cmdline.txt").read_text().split() if word != "quiet"]
    words.append(f"timerd.lines={lines_of((SOURCE / 'config.txt').read_text())}")
    tree["boot/firmware/cmdline.txt"] = before["boot/firmware/cmdline.txt"].strip() + " " + " ".join(words) + "\n"
    owned = sorted([f"file /{path}" for path in MINE] + [f"word {word}" for word in words])
    tree["etc/timerd/installed"] = "644 " + "\n".join(owned) + "\n"
    return tree


def lines_of(config: str) -> str:
    """What the kernel's command line says of the lines that it was started with."""
    return hashlib.sha256(
        "".join(f"{told}\n" for told in re.findall("^gpio=(.*)$", config, re.M)).encode()
    ).hexdigest()[:8]


def without_users(machine: Machine) -> dict[str, str]:
    return {path: text for path, text in machine.tree().items() if path not in USERS}


def installed_name(machine: Machine) -> str:
    name = machine.tree()["opt/timerd/current"].removeprefix("-> ")
    assert re.fullmatch(r"0\.1\.0-[0-9a-f]{12}", name)
    return name


def test_an_installation_leaves_what_it_should_and_a_second_one_changes_nothing(
    golden: Golden, machine: Machine
) -> None:
    before = machine.tree()
    said = done(machine, "--bench", "two-station")
    assert without_users(machine) == expected(machine, before, installed_name(machine), "two-station")
    after = machine.tree()
    assert after["etc/passwd"].startswith(before["etc/passwd"])
    assert re.findall(r"^(timerd.*?):", after["etc/passwd"], re.M) == ["timerd", "timerd-panel"]
    assert all("/nologin" in line for line in after["etc/passwd"].splitlines() if line.startswith("timerd"))
    assert {path.name for path in (machine.root / "var/lib/timerd/profiles").iterdir()} == {
        "prints", "benches", "papers", "baths",
    }  # fmt: skip
    assert oct((machine.root / "var/lib/timerd/profiles/prints").stat().st_mode)[-4:] == "2770"
    golden([line.replace(installed_name(machine), "NAME") for line in machine.packages_asked()])
    assert "write /etc/systemd/system/timerd.service" in said

    again = machine.install("--yes")  # the bench is known by now
    assert again.returncode == 0
    golden(again.stdout.splitlines()[-1])
    assert machine.tree() == after and machine.packages_asked() == []


def test_what_is_said_is_what_is_done(machine: Machine) -> None:
    before = machine.tree()
    dry = machine.install("--bench", "two-station", "--dry-run")
    assert dry.returncode == 0 and machine.tree() == before and machine.packages_asked() == []
    asked = machine.install("--bench", "two-station", says="n\n")
    assert (asked.returncode, asked.stdout.splitlines()[-1]) == (1, "nothing was changed")
    assert machine.tree() == before
    said = done(machine, "--bench", "two-station")
    assert dry.stdout.partition("change:\n")[2] == said.rpartition("done. ")[0]


def test_an_uninstall_leaves_the_printer_s_own_and_the_next_installation_finds_it(
    golden: Golden, machine: Machine
) -> None:
    before = machine.tree()
    done(machine, "--bench", "two-station", "--usb-pedal", "1a2b:3c4d")
    after = machine.tree()
    own = {
        "var/lib/timerd/book.sqlite": "644 the book", "var/lib/timerd/profiles/prints/quay.yaml": "644 a print",
    }  # fmt: skip
    for path, text in own.items():
        (machine.root / path).write_text(text.removeprefix("644 "))
    done(machine, "--uninstall")
    left = {"etc/timerd/bench": "644 BENCH=two-station\n", "etc/timerd/usb-pedals": "644 1a2b:3c4d\n"}
    users = {path: text for path, text in after.items() if path in USERS}
    assert machine.tree() == {**before, **users, **own, **left}
    again = machine.install("--uninstall", "--yes")
    golden(again.stdout.splitlines()[-1])
    done(machine)
    assert machine.tree() == {**after, **own}


def test_an_upgrade_takes_the_old_version_s_things_away_and_keeps_what_is_not_its_own(machine: Machine) -> None:
    machine.take_own_clone()
    before = machine.tree()
    done(machine, "--bench", "one-lamp")
    old = installed_name(machine)
    root = machine.root
    # As an older version might have left it: a file and a word that this one has no more, other texts, an own drop-in.
    (root / "etc/udev/rules.d/69-timerd-old.rules").write_text("old")
    with (root / "etc/timerd/installed").open("a") as installed:
        installed.write("file /etc/udev/rules.d/69-timerd-old.rules\nword timerd.old=1\n")
    line = root / "boot/firmware/cmdline.txt"
    line.write_text(line.read_text().replace("loglevel=0", "loglevel=0 timerd.old=1 mine=1"))
    (root / "etc/systemd/system/timerd.service").write_text("[Unit]\nDescription=old\n")
    config = root / "boot/firmware/config.txt"
    config.write_text(config.read_text().replace("gpio=17,27,23", "gpio=17") + "dtoverlay=mine\n")
    drop_in = root / "etc/systemd/system/timerd.service.d/mine.conf"
    drop_in.parent.mkdir()
    drop_in.write_text("[Service]\nNice=1\n")
    file = machine.clone / "timerd" / "__init__.py"
    file.write_text(file.read_text() + "# changed\n")
    done(machine)
    new = installed_name(machine)
    assert new != old
    wanted = expected(machine, before, new, "one-lamp")
    wanted["boot/firmware/cmdline.txt"] = wanted["boot/firmware/cmdline.txt"].replace(" quiet ", " quiet mine=1 ")
    config_before, block, _ = wanted["boot/firmware/config.txt"].partition("# timerd: from here")
    wanted["boot/firmware/config.txt"] = (
        f"{config_before}dtoverlay=mine\n{block}{_}"  # what was not ours is kept, and stands before ours
    )
    wanted["etc/systemd/system/timerd.service.d/mine.conf"] = "644 [Service]\nNice=1\n"
    assert without_users(machine) == wanted


def test_an_upgrade_that_fails_leaves_the_old_version_in_place_and_the_next_one_goes_through(machine: Machine) -> None:
    machine.take_own_clone()
    done(machine, "--bench", "two-station")
    before, old = machine.tree(), installed_name(machine)
    file = machine.clone / "timerd" / "__init__.py"
    file.write_text(file.read_text() + "# changed\n")
    for trouble in ({"NO_PACKAGES": "1"}, {"BENCH_REFUSED": "1"}):
        failed = machine.install("--yes", **trouble)
        assert failed.returncode == 1
        kept = {path: text for path, text in machine.tree().items() if f"timerd/{old}" in path or "opt" not in path}
        assert kept == {path: text for path, text in before.items() if path != "opt/timerd/current"}
        assert installed_name(machine) == old
    done(machine)
    assert installed_name(machine) != old and not (machine.root / "opt/timerd" / old).exists()


@pytest.mark.parametrize("part", [0.5, 0.8])
def test_an_installation_that_is_killed_is_made_whole_or_taken_away(
    machine: Machine, tmp_path: Path, part: float
) -> None:
    """Before every command: tests/measure/interrupted_install.py."""
    assert killed_at(tmp_path / "at", round(commands(tmp_path / "count") * part)) == []


def test_a_root_that_shares_nothing_shares_its_programs(machine: Machine) -> None:
    install = machine.clone / "firmware/raspberrypi/install.sh"
    command = f"umask 077; exec {install} --root {machine.root} --yes --bench two-station"
    ran = subprocess.run(["bash", "-c", command], env=machine.env, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    for part in ("opt/timerd/current/bin/timerd", "etc/timerd/bench", "usr/local/bin/timerd"):
        path = machine.root / part
        while path != machine.root:
            assert path.stat().st_mode & 0o004, path
            path = path.parent


HOOK = """\
#!/bin/sh
# As Debian's raspi-firmware: at each kernel or firmware update
cd "$1" || exit
{
    printf '# Do not modify this file!\\n\\narm_64bit=1\\nkernel=vmlinuz-%s\\n' "$2"
    printf '\\n# Inserted:\\n'
    cat etc/default/raspi-firmware-custom 2>/dev/null
} >boot/firmware/config.txt
extra=$(cat etc/default/raspi-extra-cmdline 2>/dev/null)
echo "console=tty0  root=/dev/mmcblk0p2 rw  rootwait $extra" >boot/firmware/cmdline.txt
"""
"""From reading Debian's own (raspi-firmware 1.20220830 and 1.20240424), which tests/measure/service_manager.py runs."""


@pytest.fixture
def debian(machine: Machine) -> Machine:
    """A machine whose boot files are written anew at each update (`update`)."""
    hook = machine.root / "etc/kernel/postinst.d/z50-raspi-firmware"
    hook.parent.mkdir(parents=True)
    hook.write_text(HOOK)
    hook.chmod(0o755)
    update(machine, "1")
    return machine


def settings(config: str) -> list[str]:
    """What is no comment in a config.txt."""
    return [line for line in config.splitlines() if line and not line.startswith("#")]


def update(machine: Machine, kernel: str) -> None:
    subprocess.run([machine.root / "etc/kernel/postinst.d/z50-raspi-firmware", machine.root, kernel], check=True)


@pytest.mark.parametrize("own", [{}, {"raspi-firmware-custom": "dtoverlay=mine\n", "raspi-extra-cmdline": "mine=1\n"}])
def test_a_kernel_s_update_on_debian_takes_nothing_of_ours_away(
    golden: Golden, debian: Machine, own: dict[str, str]
) -> None:
    for name, text in own.items():
        (debian.root / "etc/default").mkdir(exist_ok=True)
        (debian.root / "etc/default" / name).write_text(text)
    update(debian, "1")
    before = debian.tree()
    said = done(debian, "--bench", "two-station")
    assert "change /etc/default/raspi-firmware-custom: " in said and "change /boot/firmware/config.txt: " in said
    installed = debian.tree()
    update(debian, "2")
    after = debian.tree()
    assert settings(installed["boot/firmware/config.txt"].replace("vmlinuz-1", "vmlinuz-2")) == (
        settings(after["boot/firmware/config.txt"])
    ), "nothing but the kernel's name is another one"
    assert installed["boot/firmware/cmdline.txt"].split() == after["boot/firmware/cmdline.txt"].split()
    assert (SOURCE / "config.txt").read_text() in after["boot/firmware/config.txt"]
    words = (SOURCE / "cmdline.txt").read_text().split()
    words.append(f"timerd.lines={lines_of((SOURCE / 'config.txt').read_text())}")
    mine = own.get("raspi-extra-cmdline", "").split()
    assert after["boot/firmware/cmdline.txt"].partition(" rootwait ")[2].split() == [*mine, *words]
    again = debian.install("--yes")
    assert debian.tree() == after
    golden(again.stdout.splitlines()[-1])
    done(debian, "--uninstall")
    update(debian, "1")
    left = {path: text for path, text in debian.tree().items() if path not in USERS and "etc/timerd/" not in path}
    assert left == {path: text for path, text in before.items() if path not in USERS}


def test_several_lines_of_cmdline_txt_are_nobody_s_to_drop(machine: Machine) -> None:
    line = machine.root / "boot/firmware/cmdline.txt"
    line.write_text(f"{line.read_text()}mine=1\n")
    assert "it has several lines" in refused(machine, "--bench", "two-station")
    done(machine, "--bench", "two-station", "--no-boot")


def test_nothing_is_changed_while_a_sheet_is_under_way(machine: Machine) -> None:
    done(machine, "--bench", "two-station")
    for state, work in (
        ("prompt", "--yes"), ("ready", "--uninstall"), ("exposing", "--dry-run"), ("paused", "--yes"),
        ("abandoned", "--uninstall"),
    ):  # fmt: skip
        machine.status.write_text(f'{{"ok": true, "state": "{state}"}}')
        assert "a sheet is under way" in refused(machine, work)
    for state in ("idle", "done", "fault"):
        machine.status.write_text(f'{{"ok": true, "state": "{state}"}}')
        assert machine.install("--yes").returncode == 0


def test_python_3_13_takes_the_system_s_pin_library(machine: Machine) -> None:
    ran = machine.install("--bench", "two-station", "--yes", PYTHON_MINOR="13")
    assert "libdrm2 python3-lgpio)" in ran.stdout
    assert machine.packages_asked()[0] == f"-I -m venv --system-site-packages /opt/timerd/{installed_name(machine)}"


def test_a_pedal_s_rule_names_that_pedal_alone_and_is_kept(machine: Machine) -> None:
    done(machine, "--bench", "two-station", "--usb-pedal", "1a2b:3c4d", "--usb-pedal", "5e6f:0708")
    done(machine, "--bench", "one-lamp")
    rules = machine.tree()["etc/udev/rules.d/70-timerd.rules"]
    pedals = [line for line in rules.splitlines() if "input" in line]
    assert [re.findall(r'ATTRS\{id(?:Vendor|Product)\}=="(....)"', line) for line in pedals] == [
        ["1a2b", "3c4d"], ["5e6f", "0708"],
    ]  # fmt: skip
    assert all('GROUP="timerd", MODE="0640"' in line for line in pedals)
    assert machine.tree()["etc/timerd/bench"] == "644 BENCH=one-lamp\n"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ((), "--bench: which bench is this? There come along: bright-lamp by-feel one-lamp "),
        (("--bench",), "--bench: say which"),
        (("--bench", "../two-station"), "--bench: a name is small letters, digits and hyphens"),
        (("--bench", "quay"), "--bench: there is no bench 'quay'"),
        (("--bench", "two-station", "--usb-pedal", "1A2B"), "--usb-pedal: four and four digits as lsusb tells them"),
        (("--bench", "two-station", "--usb-pedal", '1a2b:3c4d"'), "--usb-pedal: four and four digits"),
    ],
)
def test_a_slip_is_told_in_one_line_and_changes_nothing(machine: Machine, options: tuple[str, ...], says: str) -> None:
    assert refused(machine, *options).startswith(says)


def test_a_mark_that_is_gone_costs_nobody_a_line_of_config_txt(machine: Machine) -> None:
    done(machine, "--bench", "two-station")
    config = machine.root / "boot/firmware/config.txt"
    config.write_text(config.read_text().replace("# timerd: to here\n", "") + "dtoverlay=mine\n")
    for work in ("--yes", "--uninstall"):
        before = config.read_text()
        ran = machine.install("--yes", work)
        assert ran.returncode == 1 and "one of the marks" in ran.stderr and config.read_text() == before


def test_a_system_without_a_board_s_boot_files_is_no_trouble(machine: Machine) -> None:
    shutil.rmtree(machine.root / "boot")
    said = done(machine, "--bench", "two-station")
    assert "no config.txt in /boot" in said and not (machine.root / "boot").exists()
    assert done(machine, "--uninstall")


def test_no_boot_leaves_the_boot_files_as_they_are(machine: Machine) -> None:
    before = {path: text for path, text in machine.tree().items() if path.startswith("boot")}
    done(machine, "--bench", "two-station", "--no-boot")
    assert {path: text for path, text in machine.tree().items() if path.startswith("boot")} == before
    done(machine)
    changed = {path: text for path, text in machine.tree().items() if path.startswith("boot")}
    done(machine, "--no-boot", "--bench", "one-lamp")
    done(machine, "--bench", "two-station")
    assert {path: text for path, text in machine.tree().items() if path.startswith("boot")} == changed != before


def test_the_lock_has_a_hash_for_every_package_that_timerd_asks_for() -> None:
    lock = (SOURCE / "python.lock").read_text()
    blocks = re.findall(r"^([a-z0-9-]+)==\S+[^\n]*\\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)", lock, re.M)
    assert {name for name, _ in blocks} == set(re.findall(r"^([a-z0-9-]+)==", lock, re.M))
    project = (ROOT / "pyproject.toml").read_text()
    asked = re.findall(r'"([a-z.]+)>=', project.partition("dependencies = [")[2].partition("]")[0])
    stands_in = {"pygame": "pygame-ce", "ruamel.yaml": "ruamel-yaml"}
    assert asked and {stands_in.get(name, name) for name in asked} <= {name for name, _ in blocks}
    assert "lgpio" in dict(blocks) and "http" not in lock


def test_the_scripts_are_clean() -> None:
    need(shutil.which("shellcheck") is not None, "shellcheck", "apt install shellcheck")
    scripts = [str(path) for path in SOURCE.glob("*.sh")]
    assert len(scripts) == 2
    ran = subprocess.run(["shellcheck", *scripts], capture_output=True, text=True)
    assert (ran.returncode, ran.stdout) == (0, "")


def test_config_txt_is_read_whole_by_the_firmware() -> None:
    """98 letters a line, from memory of the firmware's documentation."""
    assert max(len(line) for line in (SOURCE / "config.txt").read_text().splitlines()) <= 98
    assert len((SOURCE / "cmdline.txt").read_text().splitlines()) == 1


def test_a_module_that_lies_where_it_is_called_is_nobody_s(machine: Machine, tmp_path: Path) -> None:
    """With a real Python, which root would have run it by."""
    here = tmp_path / "here"
    here.mkdir()
    for name in ("venv", "pip", "sys", "ensurepip"):
        (here / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w')")
    (tmp_path / "tools" / "python3").write_text(f'#!/bin/sh\nexec {sys.executable} "$@"\n')
    install = SOURCE / "install.sh"
    ran = subprocess.run(
        [str(install), "--root", str(machine.root), "--yes", "--bench", "two-station"], cwd=here, text=True,
        env={**machine.env, "PIP_NO_INDEX": "1", "PYTHONPATH": str(here)}, capture_output=True,
    )  # fmt: skip
    assert ran.returncode == 1 and "No matching distribution" in ran.stderr, "pip itself, and it may ask no index"
    assert not (tmp_path / "ran").exists()


# -- on the running system ---------------------------------------------------------------------------------------


@pytest.fixture
def live() -> Iterator[Live]:
    need(os.geteuid() == 0, "root, for an overlay of this system", "run the tests as root")
    need(shutil.which("systemd-sysusers") is not None, "systemd (systemd-sysusers)", "apt install systemd")
    try:
        live = Live()
    except OSError as error:
        need(False, f"a file system that can be overlaid ({error})", "run the tests where mount may be called")
        raise
    yield live
    live.close()


def test_a_bench_of_the_group_s_is_read_by_timerd_s_user_and_never_by_root(live: Live) -> None:
    """Who may write there could make it a link to what root alone may read, or a file that the parser fails on."""
    live.put("var/lib/timerd/profiles/benches/mine.yaml", "bench: mine")
    ran = live.install("--bench", "mine", ALL_THERE="1")
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert live.was_asked() == ["check by timerd", "status by timerd"]
    ran = live.install("--bench", "two-station", ALL_THERE="1")
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert live.was_asked() == ["status by timerd", "check by root", "status by timerd"], "what comes along is trusted"


def test_a_system_that_is_not_served_is_told_so_before_anything_is_changed(golden: Golden, live: Live) -> None:
    live.put("etc/os-release", 'PRETTY_NAME="Quay Linux 13"\n')
    lacking = "Unable to locate package python3-lgpio"
    ran = live.install("--bench", "two-station", PYTHON_MINOR="13", CANNOT_BE_HAD=lacking)
    golden((ran.returncode, ran.stderr))
    (asked,) = live.was_asked()
    assert asked.startswith("apt-get install --simulate ") and asked.endswith(" python3-lgpio")
    assert live.changed() == []
    ran = live.install("--bench", "two-station", PYTHON_MINOR="9")
    assert ran.returncode == 1 and "Python is older than" in ran.stderr and live.changed() == []


def test_packages_that_do_not_come_leave_nothing_behind(golden: Golden, live: Live) -> None:
    ran = live.install("--bench", "two-station", APT_FAILS="1")
    assert ran.returncode == 1 and live.changed() == []
    golden([line.partition(" python3-venv")[0] for line in live.was_asked()])
