"""A server on this machine with the layout of an open data set, and with faults; a process of its own.

`python loopback.py FOLDER` prints its port. The first part of an address says how it behaves: /plain, /cut,
/cut-once, /elsewhere, /whole, /wrong-part, /grows, /busy, /sealed; the rest is a file below FOLDER.
"""

from __future__ import annotations

import re
import sys
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path


class Parts(BaseHTTPRequestHandler):
    """Byte ranges of files, as it should be or not."""

    folder = Path()
    asked = 0
    log: Path

    def do_GET(self) -> None:
        Parts.asked += 1
        with open(self.log, "a", encoding="utf-8") as log:
            log.write(self.path + "\n")
        _, way, *rest = self.path.split("/")
        file = self.folder.joinpath(*rest)
        if way == "elsewhere":
            self.send_response(302)
            self.send_header("Location", "https://tiles.example.org/other.tif")
            self.end_headers()
            return
        if way == "sealed":
            self.send_error(403)
            return
        if way == "busy" and Parts.asked == 1:
            self.send_error(503)
            return
        if not file.is_file():
            self.send_error(404)
            return
        data = file.read_bytes()
        if way == "whole":
            self.send_response(200)
            self.send_header("Content-Length", str(len(data)))
            self.end_headers()
            self.wfile.write(data)
            return
        asked = re.fullmatch(r"bytes=(\d+)-(\d+)", self.headers["Range"])
        assert asked is not None
        first, last = int(asked[1]), min(int(asked[2]), len(data) - 1)
        part, size = data[first : last + 1], len(data)
        if way == "wrong-part":
            first += 7
        if way == "grows":
            size += Parts.asked
        self.send_response(206)
        self.send_header("Content-Range", f"bytes {first}-{last}/{size}")
        self.send_header("Content-Length", str(len(part)))
        self.end_headers()
        if way == "cut" or (way == "cut-once" and Parts.asked == 2):
            part = part[: len(part) // 2]
            self.wfile.write(part)
            self.wfile.flush()
            self.close_connection = True
            return
        self.wfile.write(part)

    def log_message(self, format: str, *args: object) -> None:
        pass


if __name__ == "__main__":
    Parts.folder = Path(sys.argv[1])
    Parts.log = Path(sys.argv[2])
    server = ThreadingHTTPServer(("127.0.0.1", 0), Parts)
    print(server.server_address[1], flush=True)
    server.serve_forever()
