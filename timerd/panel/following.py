"""The daemon followed: its status as it changes, the plan and the bench that go with it, and what to do when it is
gone. Nothing here waits but `wait`."""

from __future__ import annotations

import json
import logging
import select
from collections.abc import Callable
from typing import Protocol, TypeVar

from pydantic import BaseModel

from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.status import Status, status_of
from timerd.wire.control import Answer, AskBench, AskPlan, BenchTold, Follow, PlanTold, Request, StatusTold

Model = TypeVar("Model", bound=BaseModel)

RETRY_S = 1.0
"""How often a daemon that is gone is looked for."""

_log = logging.getLogger(__name__)


class Connection(Protocol):
    """A connection to the daemon. `receive` gives the messages that are there; OSError: the other end is gone."""

    def fileno(self) -> int: ...
    def send(self, request: Request) -> None: ...
    def receive(self) -> list[Answer]: ...
    def close(self) -> None: ...


class Following:
    """What the daemon last told. `status` is None while it is not there; `why` then says so in words.

    `connect` makes a connection, or raises OSError.
    """

    def __init__(self, connect: Callable[[], Connection]) -> None:
        self.status: Status | None = None
        self.plan: Plan | None = None
        self.bench: Bench | None = None
        self.why = "Looking for it."
        self._connect = connect
        self._link: Connection | None = None
        self._retry_at = float("-inf")
        self._plan_id: str | None = None
        self._asked_for: str | None = None

    def poll(self, now: float) -> None:
        """Take in what is there; look for the daemon anew where it is gone. Does not wait."""
        try:
            if self._link is None:
                if now < self._retry_at:
                    return
                self._retry_at = now + RETRY_S
                self._link = self._connect()
                self.why = "Its socket is there, but it says nothing."
                self._link.send(Follow())
                self._link.send(AskBench())
            if select.select([self._link], [], [], 0)[0]:
                for message in self._link.receive():
                    self._take(message)
            self._ask_for_plan()
        except (OSError, ValueError) as error:  # ValueError: a closed file number
            self._drop(str(error) or type(error).__name__)

    def wait(self, seconds: float) -> None:
        """Until the daemon tells something, or for so many seconds."""
        watched = [] if self._link is None else [self._link]
        try:
            select.select(watched, [], [], max(0.0, seconds))
        except (OSError, ValueError) as error:
            self._drop(str(error))

    def close(self) -> None:
        """Let the daemon go."""
        self.status = None
        self._drop("Let go.")

    def _take(self, answer: Answer) -> None:
        match answer:
            case StatusTold(told):
                lost = self.status is None
                try:
                    self.status = status_of(told)
                except ValueError as error:
                    self.status = None
                    self.why = f"It tells what this panel does not know ({error}): are both of one version?"
                if lost and self.status is not None:
                    _log.info("the daemon is there")
                if self.status is None or self.status.plan != self._plan_id:
                    self._plan_id, self.plan = None, None
            case PlanTold(number, plan):
                self._asked_for, self._plan_id = None, number
                self.plan = _read(Plan, plan)
            case BenchTold(bench):
                self.bench = _read(Bench, bench)

    def _ask_for_plan(self) -> None:
        """The status names a plan that is not the one here."""
        wanted = self.status.plan if self.status is not None else None
        if self._link is not None and wanted not in (None, self._plan_id, self._asked_for):
            self._asked_for = wanted
            self._link.send(AskPlan())

    def _drop(self, why: str) -> None:
        if self._link is not None:
            self._link.close()
        if self.status is not None:
            _log.warning("the daemon is lost: %s", why)
        self._link, self.status, self.plan = None, None, None
        self._plan_id = self._asked_for = None
        self.why = f"{why[:1].upper()}{why[1:].rstrip('.')}."


def _read(model: type[Model], told: object) -> Model | None:
    """A plan or a bench as it was told; None where there is none, or one of another version: the status shows without.

    Told as JSON and read as JSON, where lists stand for tuples.
    """
    try:
        return None if told is None else model.model_validate_json(json.dumps(told))
    except ValueError:
        return None
