"""The panel's ear: what the daemon tells, handed on to the sound as it comes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from timerd.panel.following import Following
from timerd.panel.sound import Sound
from timerd.sheet.status import Status


class Hearing:
    """Called in every round of the panel with what the daemon last told. The sound begins when the bench is known, as
    its file has it; what it lacks is told once to `complain`, and nothing else stops."""

    def __init__(self, cache: Path, complain: Callable[[str], None]) -> None:
        self._cache = cache
        self._complain = complain
        self._sound: Sound | None = None
        self._heard: Status | None = None
        self._with_plan: object = None
        self._complained: str | None = None

    def __call__(self, following: Following, now: float) -> None:
        if self._sound is None:
            if following.bench is None:
                return
            self._sound = Sound(following.bench.sound, self._cache)
        if following.status is not self._heard or following.plan is not self._with_plan:
            self._heard, self._with_plan = following.status, following.plan
            self._sound.heard(following.status, following.plan)
        trouble = self._sound.trouble
        if trouble is not None and trouble != self._complained:
            self._complained = trouble
            self._complain(trouble)

    def close(self) -> None:
        """Nothing more is heard."""
        if self._sound is not None:
            self._sound.close()
