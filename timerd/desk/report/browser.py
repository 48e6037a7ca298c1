"""A page to a PDF by a browser that is installed here, without its user's own settings and without a network."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from timerd.inplace import placed

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
"""What a browser that can print to a file by itself is called, the one that Debian has first."""

_LONGEST_S = 60.0


def browser() -> str | None:
    """The path of a browser that can do it; None where there is none."""
    return next((found for name in NAMES if (found := shutil.which(name)) is not None), None)


def quiet_flags(profile: str) -> list[str]:
    """How a browser is told to show nothing, ask nobody, and keep what it must write in `profile`."""
    flags = [
        "--headless", f"--user-data-dir={profile}", "--no-first-run", "--disable-gpu", "--disable-extensions",
        "--disable-background-networking", "--disable-sync", "--disable-component-update", "--no-pings",
        "--host-resolver-rules=MAP * ~NOTFOUND",
    ]  # fmt: skip
    # A browser's sandbox cannot be set up by root. The page has no script and loads nothing.
    return [*flags, "--no-sandbox"] if os.geteuid() == 0 else flags


def write_pdf(page: Path, pdf: Path, found: str) -> None:
    """Print a page to a PDF beside its place, and then into place. OSError, in one line, where the browser fails."""
    try:
        with placed(pdf, over=True) as beside, tempfile.TemporaryDirectory(prefix="timerd-browser-") as profile:
            subprocess.run(
                [
                    found, *quiet_flags(profile), "--no-pdf-header-footer", f"--print-to-pdf={beside.absolute()}",
                    page.absolute().as_uri(),
                ],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=_LONGEST_S,
                check=True,
            )  # fmt: skip
            if not beside.stat().st_size:
                raise OSError("nothing came")
    except (OSError, subprocess.SubprocessError):
        raise OSError(f"{pdf}: the browser {found} made no PDF: print the page from a browser by hand") from None
