"""What the printer sees and hears in the dark: a process of its own, and the only place with pygame."""

from __future__ import annotations

import os

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")  # before pygame is imported: only the commands print
