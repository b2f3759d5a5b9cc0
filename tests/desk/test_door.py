"""The front door: whatever is not our own page is refused, learns nothing and changes nothing.

Each attack is sent to a real desk byte by byte; afterwards the journal is as it was and the answer holds none
of the folder's text.
"""

from __future__ import annotations

import json
import socket
import threading
import time
import urllib.error
import urllib.request

import pytest

from tests.desk.running import Client, raw

NOTE = json.dumps(
    {"kind": "checked in", "body": {"call": "QK1B", "kind": "base"}, "token": "token-attack", "seen": None}
).encode()


def attack(ours: Client, request: bytes, *, statuses: tuple[int, ...] = (403,)) -> None:
    before = ours.state["seq"]
    answer = raw(ours.desk, request)
    assert answer.status in statuses, answer
    assert b"Small net" not in answer.body and b"QK1A" not in answer.body
    assert "access-control-allow-origin" not in answer.headers
    assert ours.state["seq"] == before


def request(
    ours: Client, method: str = "GET", path: str = "state", body: bytes = b"", **changes: str | None
) -> bytes:
    headers: dict[str, str | None] = {
        "Host": ours.desk.host, "Cookie": f"desk={ours.cookie}", "Origin": ours.desk.origin,
        "Content-Type": "application/json", "Content-Length": str(len(body)),
    }  # fmt: skip
    headers |= {name.replace("_", "-"): value for name, value in changes.items()}
    lines = "".join(f"{name}: {value}\r\n" for name, value in headers.items() if value is not None)
    target = path if path.startswith(("/", "http")) else ours.prefix + path
    return f"{method} {target} HTTP/1.1\r\n{lines}\r\n".encode() + body


def test_our_own_requests_pass(ours: Client) -> None:
    assert raw(ours.desk, request(ours)).status == 200
    assert raw(ours.desk, request(ours, Origin=None, Sec_Fetch_Site="none")).status == 200


@pytest.mark.parametrize(
    "host", ["localhost:{port}", "127.0.0.1", "evil.example:{port}", "127.0.0.1:80", "[::1]:{port}", ""]
)
def test_no_other_host(ours: Client, host: str) -> None:
    attack(ours, request(ours, Host=host.format(port=ours.desk.port)), statuses=(403, 400))


def test_no_host_and_two_hosts(ours: Client) -> None:
    attack(ours, request(ours, Host=None), statuses=(400, 403))
    line = f"Host: {ours.desk.host}\r\n".encode()
    attack(ours, request(ours).replace(line, line + b"Host: evil.example\r\n"), statuses=(400, 403))


@pytest.mark.parametrize(
    "origin",
    [
        "http://127.0.0.1:1",
        "http://localhost:{port}",
        "https://127.0.0.1:{port}",
        "null",
        "http://evil.example",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_no_other_origin(ours: Client, origin: str, method: str) -> None:
    origin = origin.format(port=ours.desk.port)
    path, body = ("note", NOTE) if method == "POST" else ("state", b"")
    attack(ours, request(ours, method, path, body, Origin=origin))


def test_a_note_without_origin_is_nobodys(ours: Client) -> None:
    attack(ours, request(ours, "POST", "note", NOTE, Origin=None))


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_fetch_metadata_of_another_page(ours: Client, site: str, method: str) -> None:
    attack(ours, request(ours, method, "note" if method == "POST" else "state", NOTE, Sec_Fetch_Site=site))


def test_a_note_typed_by_hand_is_no_note(ours: Client) -> None:
    attack(ours, request(ours, "POST", "note", NOTE, Sec_Fetch_Site="none"))


@pytest.mark.parametrize("method", ["OPTIONS", "PUT", "DELETE", "HEAD", "PATCH", "TRACE"])
def test_only_get_and_post(ours: Client, method: str) -> None:
    attack(ours, request(ours, method))


@pytest.mark.parametrize("cookie", [None, "desk=", "desk=0123456789abcdef0123456789abcdef", "other=1"])
def test_no_cookie_no_entry(ours: Client, cookie: str | None) -> None:
    attack(ours, request(ours, Cookie=cookie))


def test_two_cookies_are_none(ours: Client) -> None:
    attack(ours, request(ours, Cookie=f"desk={ours.cookie}; desk=x"))


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/state",
        "/../state",
        "http://evil.example/state",
        "/0123456789abcdef0123456789abcdef/state",
    ],
)
def test_no_other_path(ours: Client, path: str) -> None:
    attack(ours, request(ours, path=path))


@pytest.mark.parametrize(
    "path",
    [
        "static/..%2f..%2froster.csv",
        "static/../../net.toml",
        "static/%2e%2e%2fdesk.json",
        "static//etc/passwd",
        "static/tonight.html",
        "export.db",
        "roster.csv",
    ],
)
def test_no_path_reaches_a_file(ours: Client, path: str) -> None:
    answer = raw(ours.desk, request(ours, path=path))
    assert answer.status in (400, 403, 404)
    assert b"QK1" not in answer.body and b"root:" not in answer.body


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", None]
)
def test_only_json_is_a_note(ours: Client, kind: str | None) -> None:
    attack(ours, request(ours, "POST", "note", NOTE, Content_Type=kind), statuses=(400,))


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b"null", b'{"kind": 1}', b"[" * 5000, b"\xff\xfe", b'{"token": "x"}']
)
def test_what_is_no_note_is_said_so(ours: Client, body: bytes) -> None:
    attack(ours, request(ours, "POST", "note", body), statuses=(400,))


def test_a_long_note_is_refused_declared_or_not(ours: Client) -> None:
    long = b'{"x": "' + b"y" * 9000 + b'"}'
    attack(ours, request(ours, "POST", "note", long), statuses=(413,))
    chunked = request(ours, "POST", "note", b"", Content_Length=None, Transfer_Encoding="chunked")
    attack(ours, chunked + b"2328\r\n" + b"y" * 9000 + b"\r\n0\r\n\r\n", statuses=(413,))
    endless = request(ours, "POST", "note", b"", Content_Length="9000000")
    attack(ours, endless + b"y" * 20000, statuses=(413,))


def test_no_web_socket(ours: Client) -> None:
    upgrade = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec_WebSocket_Version": "13"}
    key = {"Sec_WebSocket_Key": "dGhlIHNhbXBsZSBub25jZQ=="}
    foreign = request(ours, path="stream", Origin="http://127.0.0.1:1", **upgrade, **key)
    attack(ours, foreign)


def test_a_key_works_once(ours: Client) -> None:
    address = ours.desk.new_address()
    assert urllib.request.urlopen(address).status == 200
    with pytest.raises(urllib.error.HTTPError) as used:
        urllib.request.urlopen(address)
    assert used.value.code == 403 and b"a new one" in used.value.read()
    with pytest.raises(urllib.error.HTTPError):
        urllib.request.urlopen(f"{ours.desk.origin}/open?key=guess")


def test_opening_takes_no_note_and_no_other_host(ours: Client) -> None:
    attack(ours, request(ours, "POST", "/open?key=x", b""))
    attack(ours, request(ours, path="/open?key=x", Host="evil.example"))


def test_every_answer_carries_the_policy(ours: Client) -> None:
    answers = [
        raw(ours.desk, request(ours, path=path))
        for path in ("", "state", "nothing", "static/desk.css", "/", "/open?key=x", "export.csv")
    ]
    for answer in answers:
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy
        assert "server" not in answer.headers
    assert "trusted-types 'none'" in answers[0].headers["content-security-policy"]


def test_every_route_there_is_goes_through_the_door(ours: Client) -> None:
    """The table of the application itself: a route added tomorrow is tested too."""
    from reach.desk.server import PAGES
    from reach.desk.tonight import tonight_routes

    class Nobody:
        """The routes are only named, never asked."""

    paths = [route.path.lstrip("/").replace("{kind}", "csv") for route in tonight_routes(Nobody())]  # type: ignore[arg-type]
    assert {"state", "note", "stream"} <= set(paths)
    for path in [*paths, *(page.path for page in PAGES), "static/desk.css"]:
        for changes in ({"Cookie": None}, {"Sec_Fetch_Site": "same-site"}, {"Host": "evil.example"}):
            attack(ours, request(ours, path=path, **changes))


def test_slow_callers_do_not_keep_ours_out(ours: Client) -> None:
    lines = [socket.create_connection(("127.0.0.1", ours.desk.port)) for _ in range(40)]
    try:
        for line in lines:
            line.sendall(b"GET / HTTP/1.1\r\n")
        assert ours.send("GET", "state").status == 200
    finally:
        for line in lines:
            line.close()


def test_the_stream_tells_of_a_note(ours: Client) -> None:
    heard: list[bytes] = []

    def listen() -> None:
        with socket.create_connection(("127.0.0.1", ours.desk.port), timeout=10) as line:
            line.sendall(request(ours, path="stream"))
            while b"event: seq" not in b"".join(heard).partition(b"\n\n")[2]:
                heard.append(line.recv(4096))

    listener = threading.Thread(target=listen)
    listener.start()
    time.sleep(0.3)
    seq = ours.note("fragment", {"text": "1B"}).json["seq"]
    listener.join(10)
    assert f"data: {seq}".encode() in b"".join(heard)


def test_the_secrets_are_private(ours: Client) -> None:
    kept = ours.desk.folder / "evenings" / "desk.json"
    assert kept.stat().st_mode & 0o777 == 0o600
