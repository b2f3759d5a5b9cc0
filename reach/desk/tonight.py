"""The page "Tonight": what it shows, what it notes, what it can be asked."""

from __future__ import annotations

import asyncio
import datetime
from collections.abc import AsyncIterator
from dataclasses import asdict
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from reach import __version__
from reach.answers.evening_closing import who_came
from reach.answers.evening_people import names_of
from reach.desk.night import Night
from reach.desk.requests import NoteTooLong, json_body, said
from reach.desk.view import (
    NOT_READY,
    FragmentView,
    PlanView,
    TonightView,
    clock_words,
    deed_words,
    group_views,
    plan_view,
    step_views,
)
from reach.drawings.exports.evening import evening_adi, evening_csv, evening_text
from reach.drawings.papers.evening_words import spoken_steps
from reach.drawings.papers.run_sheet import repeater_words
from reach.drawings.papers.sheet_pdf import sheet_pdf
from reach.drawings.style.words import frequency_words
from reach.errors import InputProblem, OutputProblem, ReachError
from reach.evening.acts import Closed, read_act
from reach.evening.check_ins import CheckIn, check_in_of
from reach.evening.fold import Evening, Event, Sitting
from reach.evening.journal import LONGEST_TOKEN, Newer
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.nets import MeetsOn
from reach.inputs.quantities import refuse
from reach.stations import Channel

_BEAT_S = 5.0
_UNSAVED = 507
_CLASHES = 409


def tonight_routes(night: Night) -> list[Route]:
    """Under the prefix; each gets the evening."""

    async def state(request: Request) -> Response:
        return JSONResponse(asdict(tonight_view(night)))

    async def roster(request: Request) -> Response:
        return JSONResponse(
            {
                "people": [
                    {
                        "call": one.call_sign,
                        "name": one.name,
                        "kind": one.kind.key,
                        "comes": one.comes,
                        "member": one.member,
                    }
                    for one in night.likely
                ],
                "places": _places(night),
                "kinds": {kind.key: kind.said for kind in CheckIn},
            }
        )

    async def note(request: Request) -> Response:
        try:
            sent = await json_body(request)
            act, token, seen = _read_note(sent)
        except NoteTooLong as problem:
            return said(413, problem)
        except InputProblem as problem:
            return said(400, problem)
        try:
            event = await night.note(act, token=token, seen=seen)
            if isinstance(act, Closed):
                await night.store(source_name(night))
        except Newer as newer:
            return JSONResponse(
                {"why": "noted in another window meanwhile", "events": [_event(e) for e in newer.events]},
                _CLASHES,
            )
        except OutputProblem as problem:
            return said(_UNSAVED, problem)
        except ReachError as problem:
            return said(400, problem)
        return JSONResponse({"seq": event.seq, "state": asdict(tonight_view(night))})

    async def who(request: Request) -> Response:
        try:
            call = parse_call_sign(request.query_params.get("call", ""))
        except InputProblem as problem:
            return said(400, problem)
        return JSONResponse(asdict(night.who_is(call)))

    async def take(request: Request) -> Response:
        night.take_plan()
        return JSONResponse(asdict(tonight_view(night)))

    async def paper(request: Request) -> Response:
        try:
            sheet = await night.paper()
            return Response(
                sheet_pdf(sheet),
                media_type="application/pdf",
                headers=_named("rest-of-the-net.pdf", inline=True),
            )
        except ReachError as problem:
            return said(409, problem)

    async def export(request: Request) -> Response:
        evening, net, zone = night.evening, night.opened.net, night.opened.learned.zone
        kind = request.path_params["kind"]
        name = f"net-{_day(night):%Y-%m-%d}.{kind}"
        if kind == "csv":
            return _file(evening_csv(evening, net, zone=zone), "text/csv", name)
        if kind == "adi":
            text = evening_adi(evening, net, name=source_name(night), program_version=__version__)
            return _file(text, "text/plain", name)
        if kind == "txt":
            return _file(evening_text(evening, net, zone=zone), "text/plain", name)
        return said(404, refuse("There is no such file"))

    async def stream(request: Request) -> Response:
        return StreamingResponse(
            _stream(night, request), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"}
        )

    return [
        Route("/state", state),
        Route("/roster", roster),
        Route("/note", note, methods=["POST"]),
        Route("/who", who),
        Route("/take-plan", take, methods=["POST"]),
        Route("/paper.pdf", paper),
        Route("/export.{kind}", export),
        Route("/stream", stream),
    ]


def tonight_view(night: Night) -> TonightView:
    """What the page shows now."""
    evening, net, zone = night.evening, night.opened.net, night.opened.learned.zone
    names = names_of(evening, net)
    sitting = evening.sitting
    if sitting is None:
        return _before(night)
    on = night.meets_on(sitting.on)
    groups = group_views(sitting, names, net, zone)
    complete = sitting.complete.get(sitting.control, False)
    thought = night.thought
    plan = _plan(night, evening, sitting)
    solved = thought.plan.plan if thought.plan is not None else None
    return TonightView(
        seq=evening.seq,
        net=net.name,
        opened=True,
        on=sitting.on,
        on_words=frequency_words(on) if isinstance(on, Channel) else repeater_words(on),
        control=sitting.control,
        control_name=names.get(sitting.control, ""),
        earlier=tuple(f"{one.on}: {who_came(one).counts}" for one in evening.sittings[:-1]),
        closed=clock_words(sitting.closed, zone) if sitting.closed else "",
        groups=groups,
        counts=who_came(sitting).counts,
        fragments=tuple(FragmentView(f.seq, f.text, clock_words(f.at, zone)) for f in sitting.fragments),
        steps=step_views(
            spoken_steps(
                night.script,
                net,
                evening,
                sitting,
                on=on,
                plan=solved,
                announcements=night.announcements,
                zone=zone,
            )
        ),
        step=sitting.step,
        undo=deed_words(evening.undo),
        redo=deed_words(_undone_by(night, evening.redo)),
        undo_of=evening.undo.seq if evening.undo else 0,
        redo_of=evening.redo.seq if evening.redo else 0,
        dark=evening.screen.dark,
        large=evening.screen.large,
        complete=complete,
        clock=_clock(evening),
        plan=plan,
    )


def _before(night: Night) -> TonightView:
    evening, thought = night.evening, night.thought
    return TonightView(
        seq=evening.seq,
        net=night.opened.net.name,
        dark=evening.screen.dark,
        large=evening.screen.large,
        plan=NOT_READY,
        suggested=thought.suggestion.control,
        suggested_why=thought.suggestion.why or thought.trouble,
    )


def _plan(night: Night, evening: Evening, sitting: Sitting) -> PlanView:
    thought = night.thought
    if thought.trouble:
        return PlanView(True, thought.trouble)
    if thought.plan is None:
        return NOT_READY
    names = names_of(evening, night.opened.net)
    kinds = {station.call_sign: check_in_of(station).key for station in night.opened.net.stations}
    return plan_view(thought.plan, thought.taken, sitting, names, kinds, night.usual)


def _undone_by(night: Night, event: Event | None) -> Event | None:
    """The act that an undoing took back."""
    if event is None:
        return None
    of = getattr(event.act, "of", 0)
    return next((one for one in night.journal.events if one.seq == of), None)


def _clock(evening: Evening) -> str:
    if not evening.clock_jumps:
        return ""
    _, seconds = evening.clock_jumps[-1]
    return f"The clock of this machine jumped by {seconds:+d} s; the order of the notes is not touched."


def source_name(night: Night) -> str:
    """Under which name the evening's reports are stored."""
    return f"desk {night.journal.place.stem}"


def _day(night: Night) -> datetime.date:
    now = night.evening.sitting
    at = now.opened if now is not None else night.clock()
    return at.astimezone(night.opened.learned.zone).date()


def _places(night: Night) -> list[dict[str, str]]:
    """Where a net may meet, the place of tonight's first: a repeater where the club's net is on one."""
    net, meeting = night.opened.net, night.opened.folder.meeting
    channels = [{"on": c.name, "words": frequency_words(c)} for c in net.channels]
    repeaters = [{"on": r.call_sign, "words": repeater_words(r)} for r in net.repeaters]
    on_repeater = meeting is not None and meeting.on is not MeetsOn.SIMPLEX
    return [*repeaters[:1], *channels, *repeaters[1:]] if on_repeater else [*channels, *repeaters]


def _read_note(sent: object) -> tuple[Any, str, int | None]:
    if not isinstance(sent, dict):
        raise refuse("a note is an object")
    token, seen = sent.get("token"), sent.get("seen")
    if not isinstance(token, str) or not 8 <= len(token) <= LONGEST_TOKEN:
        raise refuse("a note needs a token")
    if seen is not None and (isinstance(seen, bool) or not isinstance(seen, int)):
        raise refuse("seen is a number")
    return read_act(sent.get("kind"), sent.get("body")), token, seen


def _event(event: Event) -> dict[str, object]:
    return {"seq": event.seq, "words": deed_words(event)}


def _file(text: str, media_type: str, name: str) -> Response:
    return Response(text, media_type=media_type, headers=_named(name, inline=False))


def _named(name: str, *, inline: bool) -> dict[str, str]:
    return {"Content-Disposition": f'{"inline" if inline else "attachment"}; filename="{name}"'}


async def _stream(night: Night, request: Request) -> AsyncIterator[str]:
    """'seq' and 'plan' as they come, a beat now and then so that a page knows we are there."""
    waiting: asyncio.Queue[str] = asyncio.Queue()
    stop = night.listen(waiting.put_nowait)
    try:
        yield f"retry: 500\nid: {night.evening.seq}\nevent: seq\ndata: {night.evening.seq}\n\n"
        while not request.app.state.ending.is_set():
            try:
                what = await asyncio.wait_for(waiting.get(), _BEAT_S)
            except TimeoutError:
                what = "beat"
            yield f"id: {night.evening.seq}\nevent: {what}\ndata: {night.evening.seq}\n\n"
    finally:
        stop()
