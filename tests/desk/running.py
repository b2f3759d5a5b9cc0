"""A desk started as a user starts it, and a client that sends exactly the bytes it is told."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path


@dataclass
class RunningDesk:
    """address : opens once. host : the only Host it answers to."""

    process: subprocess.Popen[str]
    address: str
    folder: Path

    @property
    def host(self) -> str:
        return re.search(r"http://([^/]+)/", self.address)[1]  # type: ignore[index]

    @property
    def origin(self) -> str:
        return f"http://{self.host}"

    @property
    def port(self) -> int:
        return int(self.host.split(":")[1])

    def new_address(self) -> str:
        """Press p and Enter."""
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write("p\n")
        self.process.stdin.flush()
        return _address(self.process.stdout.readline())

    def end(self) -> int:
        """Press q and Enter."""
        assert self.process.stdin
        if self.process.poll() is None:
            self.process.stdin.write("q\n")
            self.process.stdin.flush()
        return self.process.wait(15)


def _address(line: str) -> str:
    found = re.search(r"http://\S+", line)
    assert found, line
    return found[0]


def start(folder: Path, *options: str, **environment: str) -> RunningDesk:
    process = subprocess.Popen(
        [sys.executable, "-m", "reach.commands.main", "desk", str(folder), "--no-browser", *options],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, **environment},
    )  # fmt: skip
    assert process.stdout and process.stderr
    line = process.stdout.readline()
    if not line:
        said = process.stderr.read()
        _finish(process)
        raise AssertionError(said)
    desk = RunningDesk(process, _address(line), folder)
    process.stdout.readline()  # which keys end it
    return desk


@contextmanager
def running(folder: Path, *options: str) -> Iterator[RunningDesk]:
    desk = start(folder, *options)
    try:
        yield desk
    finally:
        _finish(desk.process)


def _finish(process: subprocess.Popen[str]) -> None:
    if process.poll() is None:
        process.kill()
    process.wait()
    for stream in (process.stdin, process.stdout, process.stderr):
        if stream is not None:
            with suppress(BrokenPipeError):
                stream.close()


@dataclass(frozen=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> dict:
        return json.loads(self.body)


def raw(desk: RunningDesk, request: bytes, *, wait_s: float = 5.0) -> Answer:
    """Send bytes, read to the end."""
    with socket.create_connection(("127.0.0.1", desk.port), timeout=wait_s) as line:
        line.sendall(request)
        kept = b""
        try:
            while chunk := line.recv(65536):
                kept += chunk
                head, _, rest = kept.partition(b"\r\n\r\n")
                length = re.search(rb"content-length: (\d+)", head, re.IGNORECASE)
                if length and len(rest) >= int(length[1]):
                    break
        except TimeoutError:
            pass
    head, _, body = kept.partition(b"\r\n\r\n")
    if not head:
        return Answer(0, {}, b"")
    lines = head.decode("latin-1").split("\r\n")
    pairs = [one.split(": ", 1) for one in lines[1:]]
    return Answer(int(lines[0].split()[1]), {name.lower(): value for name, value in pairs}, body)


@dataclass
class Client:
    """A page of ours, without a browser: prefix and cookie as the desk gave them."""

    desk: RunningDesk
    prefix: str
    cookie: str
    tokens: int = 0

    def send(self, method: str, path: str, *, body: bytes = b"", **headers: str) -> Answer:
        every = {"Host": self.desk.host, "Cookie": f"desk={self.cookie}", **headers}
        if method == "POST":
            every = {"Origin": self.desk.origin, "Content-Type": "application/json", **every}
            every["Content-Length"] = str(len(body))
        lines = "".join(f"{name}: {value}\r\n" for name, value in every.items() if value)
        return raw(self.desk, f"{method} {self.prefix}{path} HTTP/1.1\r\n{lines}\r\n".encode() + body)

    def note(self, kind: str, body: dict, *, seen: int | None = None, token: str = "") -> Answer:
        self.tokens += 1
        sent = {"kind": kind, "body": body, "token": token or f"token-{self.tokens:06}", "seen": seen}
        return self.send("POST", "note", body=json.dumps(sent).encode())

    @property
    def state(self) -> dict:
        return self.send("GET", "state").json


def client(desk: RunningDesk) -> Client:
    """Open the desk by its printed address."""
    with urllib.request.urlopen(desk.address) as answer:
        cookie = re.match(r"desk=(\w+); ", answer.headers["set-cookie"])
        home = re.search(r'url=(/\w+/)"', answer.read().decode())
    assert cookie and home
    return Client(desk, home[1], cookie[1])
