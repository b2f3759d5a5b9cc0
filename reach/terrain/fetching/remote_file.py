"""A file on a server, read in parts: as much as is asked for and no more (HTTP range requests, RFC 9110).

Nothing is followed elsewhere, and nothing short of what was promised is taken: a part that is cut off is
asked for again, and given up with a plain word.
"""

from __future__ import annotations

import http.client
import io
import re
import time
import urllib.error
import urllib.request
from collections import OrderedDict
from dataclasses import dataclass
from typing import IO, Any
from urllib.parse import urlsplit

from reach.errors import ReachError

CHUNK = 256 * 1024
_CHUNKS_KEPT = 64
_TIMEOUT_S = 30.0
_TRIES = 3
_LOOPBACK = ("127.0.0.1", "localhost", "::1")


class FetchProblem(ReachError):
    """Something could not be fetched; says what and why. Nothing half-fetched is kept."""


class NotThere(FetchProblem):
    """The server has no such file."""


class _NoRedirects(urllib.request.HTTPRedirectHandler):
    """A server that sends elsewhere is not followed: who is asked is what the user said yes to."""

    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: Any, newurl: str
    ) -> None:
        fp.close()
        raise FetchProblem(
            f"{_host(req.full_url)} sends on to {_host(newurl)}; that was not agreed to and is not followed."
        )


def _host(address: str) -> str:
    return urlsplit(address).netloc or "nowhere"


def check_address(address: str) -> None:
    """Raises : FetchProblem for anything but https, or http on this machine itself."""
    parts = urlsplit(address)
    safe = parts.scheme == "https" or (parts.scheme == "http" and parts.hostname in _LOOPBACK)
    if not safe or not parts.hostname:
        raise FetchProblem(f"{address} is not an address to fetch from; write https://…")


@dataclass
class Tally:
    """What was fetched so far."""

    requests: int = 0
    bytes: int = 0


class RemoteFile(io.RawIOBase):
    """A file read by position. Raises : NotThere, FetchProblem, on opening and on reading."""

    def __init__(self, address: str, *, tally: Tally | None = None, pause_s: float = 0.5) -> None:
        check_address(address)
        self._address, self._at = address, 0
        self._tally = tally if tally is not None else Tally()
        self._pause_s = pause_s
        self._opener = urllib.request.build_opener(_NoRedirects)
        self._kept: OrderedDict[int, bytes] = OrderedDict()
        self._size: int | None = None
        self._chunk(0)

    @property
    def size(self) -> int:
        """Bytes of the whole file."""
        assert self._size is not None
        return self._size

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self.size}[whence]
        self._at = max(0, start + offset)
        return self._at

    def read(self, size: int = -1) -> bytes:
        end = self.size if size < 0 else min(self._at + size, self.size)
        parts = []
        while self._at < end:
            number, inside = divmod(self._at, CHUNK)
            part = self._chunk(number)[inside : inside + end - self._at]
            parts.append(part)
            self._at += len(part)
        return b"".join(parts)

    def readall(self) -> bytes:
        return self.read()

    def readinto(self, buffer: Any) -> int:
        data = self.read(len(buffer))
        buffer[: len(data)] = data
        return len(data)

    def _chunk(self, number: int) -> bytes:
        if number in self._kept:
            self._kept.move_to_end(number)
            return self._kept[number]
        data = self._fetched(number * CHUNK)
        self._kept[number] = data
        if len(self._kept) > _CHUNKS_KEPT:
            self._kept.popitem(last=False)
        return data

    def _fetched(self, first: int) -> bytes:
        """The bytes from `first` on, a chunk of them or up to the end; asked for again when cut off."""
        for tries_left in range(_TRIES - 1, -1, -1):
            try:
                return self._asked(first)
            except FetchProblem:
                raise
            except (OSError, http.client.HTTPException) as problem:
                if not tries_left:
                    why = problem or "no reason given"
                    raise FetchProblem(
                        f"{self._address}: the connection broke {_TRIES} times ({why}); nothing of this file"
                        " was kept. Run it again to go on with the rest."
                    ) from None
                time.sleep(self._pause_s)
        raise AssertionError("no try left")

    def _asked(self, first: int) -> bytes:
        last = first + CHUNK - 1 if self._size is None else min(first + CHUNK, self._size) - 1
        request = urllib.request.Request(self._address, headers={"Range": f"bytes={first}-{last}"})
        try:
            with self._opener.open(request, timeout=_TIMEOUT_S) as answer:
                status, said = answer.status, answer.headers.get("Content-Range", "")
                data = bytes(answer.read(CHUNK + 1))
        except urllib.error.HTTPError as problem:
            problem.close()
            if problem.code in (404, 410):
                raise NotThere(f"{self._address} is not there.") from None
            if problem.code >= 500:
                raise OSError(f"the server answers {problem.code}") from None
            raise FetchProblem(f"{self._address}: the server answers {problem.code}.") from None
        self._tally.requests += 1
        self._tally.bytes += len(data)
        told = re.fullmatch(r"bytes (\d+)-(\d+)/(\d+)", said.strip())
        if status != 206 or told is None:
            raise FetchProblem(f"{self._address}: the server does not give parts of a file.")
        begins, ends, size = (int(number) for number in told.groups())
        if self._size is not None and size != self._size:
            raise FetchProblem(f"{self._address}: its size changed meanwhile; run it again.")
        if begins != first or ends != min(last, size - 1):
            raise FetchProblem(f"{self._address}: the server gives other parts than were asked for.")
        if len(data) != ends - begins + 1:
            raise OSError(f"{len(data)} bytes came of {ends - begins + 1}")
        self._size = size
        return data
