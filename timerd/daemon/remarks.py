"""Notes and ratings that clients send: written down while nothing burns, one at a time, answered once on disk."""

from __future__ import annotations

import time

from timerd.book.remarks import remark
from timerd.control import Client
from timerd.daemon.clients import Clients
from timerd.daemon.ink import Ink
from timerd.sheet.engine.standing import Standing
from timerd.wire.control import AddNote, AddRating, No, OnDisk, SaidNo


class Remarks:
    """The remarks of one daemon's clients, on their way into its book."""

    def __init__(self, ink: Ink, clients: Clients, book: str) -> None:
        self._ink, self._clients, self._book = ink, clients, book
        self._waiting: tuple[Client, int] | None = None

    def take(self, client: Client, request: AddNote | AddRating, standing: Standing, wall: str) -> SaidNo | None:
        """Write one down; the answer where it is no, else None: that comes when it is on disk.

        While a light burns nothing but the light is written: the disk is not to be kept from that.
        """
        if self._ink.failed is not None:
            return SaidNo(self._ink.failed, No.NO_INK)
        if request.book not in (None, self._book):
            return SaidNo("the timerd that serves here keeps another book: give --home DIR", No.ANOTHER_BOOK)
        if standing.burst is not None:
            return SaidNo("a light is on: nothing else is written now; say it again when it is dark", No.LIGHT_ON)
        if self._waiting is not None or self._ink.waits:
            return SaidNo("the disk is busy: say it again", No.BUSY)
        try:
            record = remark(request, standing.progress.last_sheet, time.monotonic(), wall)
        except ValueError as error:
            return SaidNo(str(error), No.WRONG)
        self._waiting = client, self._ink.write([record], {}, record.at)
        return None

    def heard(self) -> None:
        """Answer whose remark has come to disk, or has failed to."""
        if self._waiting is None:
            return
        client, number = self._waiting
        if self._ink.failed is not None:
            self._clients.send(client, SaidNo(self._ink.failed, No.NO_INK))
        elif self._ink.written >= number:
            self._clients.send(client, OnDisk())
        else:
            return
        self._waiting = None
