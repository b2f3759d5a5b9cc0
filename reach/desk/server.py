"""The server of the desk: pages, assets and routes behind the door, on the loopback address only."""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from importlib.resources import files

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Mount, Route

from reach.desk.door import COOKIE, OPEN_PATH, App, Door, Secrets
from reach.desk.keys import Keys
from reach.desk.night import Night
from reach.drawings.maps.page import leaflet_css, leaflet_js
from reach.errors import OutputProblem

_TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html"}


@dataclass(frozen=True)
class Page:
    """A page of the desk. path : under the prefix, '' for the first; file : its markup among the assets."""

    path: str
    file: str


PAGES = (Page("", "tonight.html"), Page("plan", "plan.html"))
STRICT = frozenset(page.path for page in PAGES if page.file == "tonight.html")


def assets() -> dict[str, bytes]:
    """Every file a page may ask for, read once; no request reaches the disk."""
    folder = files("reach.desk") / "static"
    found = {entry.name: entry.read_bytes() for entry in folder.iterdir() if entry.is_file()}
    return {**found, "leaflet.js": leaflet_js().encode(), "leaflet.css": leaflet_css().encode()}


def desk_app(
    night: Night, secrets: Secrets, keys: Keys, routes: Sequence[Route], *, ending: threading.Event
) -> App:
    """Everything behind the door. ending : set when the server is to stop."""
    kept = assets()

    async def asset(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in kept or name.endswith(".html"):
            return Response("There is no such file.", 404, media_type="text/plain")
        return Response(kept[name], media_type=_TYPES.get(name[name.rfind(".") :], "text/plain"))

    async def opening(request: Request) -> Response:
        if not keys.takes(request.query_params.get("key", "")):
            return Response(
                "This address worked once, or for two minutes. Press p and Enter where the desk was started "
                "for a new one.",
                403,
                media_type="text/plain",
            )
        answer = HTMLResponse(
            '<!doctype html><html lang="en"><meta charset="utf-8"><link rel="icon" href="data:,">'
            f'<meta http-equiv="refresh" content="0;url={secrets.home}"><title>Net desk</title>'
            f'<p>Opening <a href="{secrets.home}">the desk</a>.</p></html>'
        )
        answer.set_cookie(COOKIE, secrets.cookie, path=secrets.home, httponly=True, samesite="strict")
        return answer

    def shown(one: Page) -> Route:
        async def answer(request: Request) -> Response:
            return HTMLResponse(kept[one.file])

        return Route(f"/{one.path}", answer)

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        night.begin()
        yield

    inside = [*map(shown, PAGES), *routes, Route("/static/{name}", asset)]
    app = Starlette(
        routes=[Route(OPEN_PATH, opening), Mount(f"/{secrets.prefix}", routes=inside)], lifespan=life
    )
    app.state.ending = ending
    return Door(app, secrets, strict=STRICT)


def bound_socket(wished: Secrets | None, port: int | None) -> socket.socket:
    """A listening socket on the loopback address: the port asked for, else that of last time where free.

    Raises : OutputProblem when the port asked for is taken.
    """
    for number in (port,) if port is not None else (wished.port if wished else 0, 0):
        # with the protocol named, answers are not held back to be sent in one piece
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind(("127.0.0.1", number))
            listening.listen(64)
        except OSError:
            listening.close()
            continue
        return listening
    raise OutputProblem(f"port {port} is taken; leave --port out, or name another.")


def serve(app: App, listening: socket.socket, *, ending: threading.Event) -> None:
    """Answer until `ending` is set or the process is interrupted."""
    config = uvicorn.Config(
        app,
        access_log=False,  # it would hold the key
        log_level="error",
        proxy_headers=False,
        server_header=False,
        date_header=False,
        ws="none",
        http="h11",
        loop="asyncio",
        lifespan="on",
        limit_concurrency=64,
        timeout_graceful_shutdown=1,
        timeout_keep_alive=30,
    )
    server = uvicorn.Server(config)

    async def run() -> None:
        async def watch() -> None:
            while not ending.is_set() and not server.should_exit:
                await asyncio.sleep(0.2)
            ending.set()
            server.should_exit = True

        watching = asyncio.create_task(watch())
        await server.serve(sockets=[listening])
        await watching

    asyncio.run(run())
