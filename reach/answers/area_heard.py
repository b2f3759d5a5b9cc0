"""Sites of an area as reports of who was heard leave them, and in words what that moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reach.answers.area_work import AreaWork
from reach.answers.learned import band_of_channel, band_of_repeater
from reach.answers.open_net import OpenNet
from reach.coverage.search.member_layer import SiteChannels, member_hub
from reach.inputs.bands import band_name
from reach.learning.correct import BandLearned, heard_end
from reach.links.lasting import HeardEnd
from reach.lists import counted
from reach.machinery.progress import Watch
from reach.stations import Repeater, Station


@dataclass(frozen=True)
class HeardWork:
    """work : with what is known of each site's end put in. words : a sentence for each site it moves."""

    work: AreaWork
    words: tuple[str, ...]


def as_heard(opened: OpenNet, work: AreaWork, *, watch: Watch) -> HeardWork:
    """The work with each site's own offsets and its band's; as it is for bands without reports.

    Paths nobody reported on keep their prediction and its spread. Raises : MissingTerrain, OutOfRange.
    """
    jobs, words = [], []
    for party, job in zip(work.parties, work.jobs, strict=True):
        hub = job.hub
        band = band_of_repeater(party) if isinstance(party, Repeater) else band_name(hub.output_mhz)
        learned = opened.learned.band(band, watch=watch) if band else None
        if learned is not None:
            end = heard_end(
                learned,
                hub.call_sign,
                site_sigma_db=hub.sigma_db,
                noise_sigma_db=hub.receiving.noise_sigma_db,
            )
            job = replace(job, hub=replace(hub, heard=end))
            words.append(_words(hub.call_sign, learned, end))
        jobs.append(job)
    return HeardWork(replace(work, jobs=tuple(jobs)), tuple(words))


@dataclass(frozen=True)
class HeardMembers:
    """ends : by call sign, of those a search sweeps; empty without reports. words : how many were heard."""

    ends: dict[str, HeardEnd]
    words: tuple[str, ...]


def members_heard(
    opened: OpenNet, members: Sequence[Station], channels: SiteChannels, *, watch: Watch
) -> HeardMembers:
    """What reports taught of members as seen from places nobody reported from.

    A relay listens on one channel and talks on another, maybe of two bands: what is known of how a member is
    heard comes from the one, of how it hears from the other. Raises : MissingTerrain, OutOfRange.
    """
    listen, talk = (
        opened.learned.band(band_of_channel(channel), watch=watch)
        for channel in (channels.listen, channels.talk)
    )
    if listen is None or talk is None:
        return HeardMembers({}, ())
    ends = {}
    for member in members:
        hub = member_hub(member, channels, opened.net)
        is_heard, hears = (
            heard_end(
                learned,
                hub.call_sign,
                site_sigma_db=hub.sigma_db,
                noise_sigma_db=hub.receiving.noise_sigma_db,
            )
            for learned in (listen, talk)
        )
        ends[member.call_sign] = replace(
            hears,
            out_db=is_heard.out_db,
            out_sigma_db=is_heard.out_sigma_db,
            path_scale=max(hears.path_scale, is_heard.path_scale),
        )
    facts = listen.evidence.facts
    own = {call for fact in facts for call in (fact.sender, fact.listener)} & set(ends)
    words = (
        f"{len(own)} of {counted(len(ends), 'member')} as heard by {counted(len(facts), 'report')}; what a "
        "new place does is as predicted. --as-predicted leaves reports aside."
    )
    return HeardMembers(ends, (words,))


def _words(call_sign: str, learned: BandLearned, end: HeardEnd) -> str:
    own = sum(call_sign in (fact.sender, fact.listener) for fact in learned.evidence.facts)
    source = counted(own, "report") if own else f"reports of others on {learned.name}"
    return (
        f"{call_sign} by {source}: it is heard {_moved(end.out_db)} and hears {_moved(end.in_db)}. "
        "--as-predicted leaves them aside."
    )


def _moved(by_db: float) -> str:
    if abs(by_db) < 0.5:
        return "as predicted"
    return f"{abs(by_db):.0f} dB {'better' if by_db > 0.0 else 'worse'} than predicted"
