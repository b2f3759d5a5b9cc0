"""The page "Plan": the map of the net, changes tried on it, a variant beside today's net, and saving it."""

from __future__ import annotations

import asyncio
import datetime
import re
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from reach.answers.area import area
from reach.answers.area_work import area_work
from reach.answers.here import worked_from
from reach.answers.open_net import OpenNet
from reach.answers.path import path
from reach.answers.variant import Variant, compared, variant
from reach.coverage.area.service import StationKind
from reach.desk.requests import NoteTooLong, json_body, said
from reach.drawings.maps.area_page import chance_overlay
from reach.drawings.maps.ground import places_of, relief_around
from reach.drawings.maps.map_data import map_data
from reach.drawings.maps.net_map import simplex_content
from reach.drawings.maps.plan_marks import marks_of
from reach.drawings.profile_plot import PictureForm, path_picture
from reach.drawings.style.words import height_words
from reach.errors import ReachError
from reach.inputs.changes import changed_net
from reach.inputs.lookup import find_channel
from reach.inputs.quantities import refuse
from reach.inputs.roster import ROSTER_FILE
from reach.inputs.roster_edit import RosterEdit, roster_edit, write_edit
from reach.links.sayings import chance_in_figures
from reach.machinery.progress import Progress
from reach.stations import Channel, Position, Station
from reach.units import power_in_words

_MOST_CHANGES, _LONGEST_CHANGE, _MOST_BYTES = 60, 120, 16_384
_AREA_RADIUS_M, _AREA_CELL_M = 20_000.0, 60.0

Result = TypeVar("Result")


class Planner:
    """What the page asks, one question after the other in a thread of its own."""

    def __init__(self, opened: OpenNet, *, clock: Callable[[], datetime.datetime]) -> None:
        self.opened, self.clock = opened, clock
        self._thread = ThreadPoolExecutor(1, "planner")
        self._as_it_is: dict[str, Variant] = {}
        self.done = (0, 0)  # of the area that is being computed

    async def run(self, work: Callable[[], Result]) -> Result:
        """In the planner's thread. Raises : whatever it raises."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)

    def as_it_is(self, channel: Channel) -> Variant:
        """The net as it is, planned once."""
        if channel.name not in self._as_it_is:
            self._as_it_is[channel.name] = variant(self.opened, (), channel)
        return self._as_it_is[channel.name]

    def tried(self, changes: tuple[str, ...], channel: Channel) -> Variant:
        """The net with changes."""
        return variant(self.opened, changes, channel) if changes else self.as_it_is(channel)

    def with_changes(self, changes: tuple[str, ...]) -> OpenNet:
        """The open net with changes, for paths and areas."""
        if not changes:
            return self.opened
        net = changed_net(self.opened.net, changes)
        return replace(self.opened, folder=replace(self.opened.folder, net=net))

    @contextmanager
    def watch(self, what: str) -> Iterator[Progress]:
        """Keeps how far a long stretch of work is."""

        def told(done: int, total: int) -> None:
            self.done = (done, total)

        yield told

    def edit(self, changes: tuple[str, ...]) -> RosterEdit:
        """What saving would write. Raises : InputProblem, ReachError."""
        place = Path(self.opened.net.folder) / ROSTER_FILE
        return roster_edit(place.read_bytes(), changes)

    def end(self) -> None:
        """Drop what is waiting."""
        self._thread.shutdown(wait=False, cancel_futures=True)


def plan_routes(planner: Planner) -> list[Route]:
    """Under the prefix; asking is a POST, as each may take long and none changes anything but saving."""
    net = planner.opened.net

    async def start(request: Request) -> Response:
        channel = net.channels[0]
        try:
            today = await planner.run(lambda: planner.as_it_is(channel))
        except ReachError as problem:
            return said(409, problem)
        return JSONResponse(
            {
                **_shown(today, today),
                "net": net.name,
                "channels": [one.name for one in net.channels],
                "stations": [_station(one) for one in net.stations if one.has_radio_path],
                "corners": _corners(planner),
            }
        )

    async def relief(request: Request) -> Response:
        places = places_of(net)
        picture = await planner.run(lambda: relief_around(planner.opened.terrain, places))
        return Response(picture.png, media_type="image/png")

    def asked(answer: Callable[[dict[str, Any]], Any]) -> Callable[[Request], Any]:
        """A route that reads a question and answers it in the planner's thread, or says what is wrong."""

        async def route(request: Request) -> Response:
            try:
                sent = await json_body(request, most=_MOST_BYTES)
                if not isinstance(sent, dict):
                    raise refuse("a question is an object")
                found = await planner.run(lambda: answer(sent))
            except (NoteTooLong, ReachError) as problem:
                return said(400, problem)
            return found if isinstance(found, Response) else JSONResponse(found)

        return route

    def tried(sent: dict[str, Any]) -> Mapping[str, Any]:
        channel = find_channel(net, _text(sent, "channel"))
        changes = _changes(sent)
        other = planner.tried(changes, channel)
        there = [_station(one) for one in other.network.net.stations if one.has_radio_path]
        return {**_shown(planner.as_it_is(channel), other), "stations": there}

    def profile(sent: dict[str, Any]) -> Response:
        opened = planner.with_changes(_changes(sent))
        found = path(
            opened, left=_text(sent, "left"), right=_text(sent, "right"), channel=_text(sent, "channel")
        )
        return Response(path_picture(found, form=PictureForm.SVG), media_type="image/svg+xml")

    def here(sent: dict[str, Any]) -> Mapping[str, Any]:
        where = Position(_degrees(sent, "latitude", 90.0), _degrees(sent, "longitude", 180.0))
        channel = find_channel(net, _text(sent, "channel"))
        found = worked_from(planner.with_changes(_changes(sent)), where, channel)
        return {
            "kinds": [
                {
                    "kind": one.kind,
                    "expected": f"{one.expected:.0f}",
                    "works": [[call, chance_in_figures(chance)] for call, chance in one.works],
                }
                for one in found
            ]
        }

    def coverage(sent: dict[str, Any]) -> Mapping[str, Any]:
        opened = planner.with_changes(_changes(sent))
        work = area_work(
            opened.net,
            [_text(sent, "call")],
            kind=StationKind.HANDHELD,
            radius_m=_AREA_RADIUS_M,
            cell_m=_AREA_CELL_M,
            channel=_text(sent, "channel"),
        )
        planner.done = (0, 1)
        try:
            found = area(opened, work, watch=planner.watch)
        finally:
            planner.done = (0, 0)
        overlay = chance_overlay(found)
        picture = overlay.picture()
        return {
            "picture": picture.data_uri,
            "corners": picture.box.corners_deg,
            "words": f"{overlay.name}. {found.headline}",
            "steps": [{"fill": step.fill, "words": step.words} for step in overlay.steps],
        }

    async def progress(request: Request) -> Response:
        done, total = planner.done
        return JSONResponse({"done": done, "total": total})

    def difference(sent: dict[str, Any]) -> Mapping[str, Any]:
        edit = planner.edit(_changes(sent))
        return {"digest": edit.digest, "changes": [one.words for one in edit.changes]}

    def save(sent: dict[str, Any]) -> Mapping[str, Any]:
        edit = planner.edit(_changes(sent))
        if edit.digest != _text(sent, "digest"):
            raise refuse("roster.csv was changed by somebody else meanwhile", "look at the difference anew")
        kept = write_edit(Path(net.folder), edit, now=planner.clock())
        return {"kept": kept.name, "changes": len(edit.changes)}

    return [
        Route("/plan/start", start),
        Route("/plan/relief.png", relief),
        Route("/plan/try", asked(tried), methods=["POST"]),
        Route("/plan/profile", asked(profile), methods=["POST"]),
        Route("/plan/here", asked(here), methods=["POST"]),
        Route("/plan/coverage", asked(coverage), methods=["POST"]),
        Route("/plan/progress", progress),
        Route("/plan/difference", asked(difference), methods=["POST"]),
        Route("/plan/save", asked(save), methods=["POST"]),
    ]


def _shown(today: Variant, other: Variant) -> dict[str, Any]:
    """Map data and the comparison of a variant."""
    marks = marks_of(other.plan) if other.plan else None
    content = simplex_content(other.network, headline=other.sentence, marks=marks)
    side = compared(today, other)
    return {
        "map": map_data(content),
        "layers": [
            {"key": layer.key, "words": layer.title, "visible": layer.visible} for layer in content.layers
        ],
        "sentence": side.sentence,
        "plan": other.sentence,
        "rows": side.rows,
        "warnings": [*content.warnings],
    }


def _station(station: Station) -> dict[str, Any]:
    beam = station.antenna.beam
    return {
        "call": station.call_sign,
        "name": station.name,
        "latitude": round(station.position.latitude_deg, 6),
        "longitude": round(station.position.longitude_deg, 6),
        "height": height_words(station.antenna.height_m),
        "power": power_in_words(station.transmit_power_dbm),
        "antenna": station.antenna.kind,
        "direction": "" if beam is None else beam.towards or f"{beam.bearing_deg:.0f}",
        "backup": "" if station.backup is None else station.backup.words,
        "control": station.willing_control,
        "relay": station.willing_relay,
    }


def _corners(planner: Planner) -> Any:
    return relief_around(planner.opened.terrain, places_of(planner.opened.net)).box.corners_deg


def _changes(sent: dict[str, Any]) -> tuple[str, ...]:
    found = sent.get("changes", [])
    if not isinstance(found, list) or len(found) > _MOST_CHANGES:
        raise refuse(f"changes are a list of at most {_MOST_CHANGES}")
    if any(not isinstance(one, str) or len(one) > _LONGEST_CHANGE for one in found):
        raise refuse(f"a change is a text of at most {_LONGEST_CHANGE} characters")
    return tuple(re.sub(r"\s+", " ", one) for one in found)


def _text(sent: dict[str, Any], name: str) -> str:
    found = sent.get(name)
    if not isinstance(found, str) or len(found) > _LONGEST_CHANGE:
        raise refuse(f"{name} is not a text")
    return found


def _degrees(sent: dict[str, Any], name: str, most: float) -> float:
    found = sent.get(name)
    if isinstance(found, bool) or not isinstance(found, (int, float)) or not -most <= found <= most:
        raise refuse(f"{name} is not in degrees")
    return float(found)
