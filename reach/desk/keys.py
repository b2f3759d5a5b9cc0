"""The desk's secrets, in one private file of the folder so that open pages go on after a restart; and keys
that let a browser in once.
"""

from __future__ import annotations

import json
import os
import secrets as random
import time
from contextlib import suppress
from pathlib import Path

from reach.desk.door import Secrets
from reach.errors import OutputProblem
from reach.files import temporary_name

FILE = "desk.json"  # among the evenings
KEY_LASTS_S = 120.0


def kept_secrets(folder: Path) -> Secrets | None:
    """Those of the last desk of this folder; None without one, or where the file is not as it was written."""
    try:
        kept = json.loads((folder / FILE).read_text(encoding="utf-8"))
        port, prefix, cookie = kept["port"], kept["prefix"], kept["cookie"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    whole = isinstance(port, int) and 1024 <= port <= 65535
    if not whole or not all(isinstance(one, str) and len(one) == 32 for one in (prefix, cookie)):
        return None
    return Secrets(port, prefix, cookie)


def new_secrets(port: int) -> Secrets:
    """128 bits each."""
    return Secrets(port, random.token_hex(16), random.token_hex(16))


def keep_secrets(folder: Path, chosen: Secrets) -> None:
    """Readable by this user only. Raises : OutputProblem."""
    text = json.dumps({"port": chosen.port, "prefix": chosen.prefix, "cookie": chosen.cookie})
    beside = folder / temporary_name(".json")
    try:
        folder.mkdir(exist_ok=True)
        with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(text)
        os.replace(beside, folder / FILE)
    except OSError as error:
        with suppress(OSError):
            beside.unlink()
        raise OutputProblem(f"{folder / FILE}: {error.strerror or error}.") from error


class Keys:
    """Keys that open the desk once, within two minutes."""

    def __init__(self) -> None:
        self._made: dict[str, float] = {}

    def new(self) -> str:
        """A key not given before."""
        key = random.token_urlsafe(24)
        self._made[key] = time.monotonic()
        return key

    def takes(self, key: str) -> bool:
        """Whether it opens; it does not a second time."""
        made = self._made.pop(key, None)
        return made is not None and time.monotonic() - made <= KEY_LASTS_S
