"""What reports of a net folder have taught, band by band: fitted when first asked for, then kept."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from enum import Enum
from zoneinfo import ZoneInfo

from reach.inputs.bands import band_name
from reach.inputs.net_folder import NetFolder
from reach.inputs.reports import Report
from reach.learning.band import band_model
from reach.learning.correct import BandLearned
from reach.learning.evidence import evidence
from reach.learning.fit import fit
from reach.learning.model import CALIBRATED_METER_SIGMA_DB, BandModel
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.lists import counted
from reach.machinery.progress import Watch
from reach.notes import Note, NoteKind
from reach.reports.store import Stored, standing
from reach.stations import Channel, Repeater
from reach.terrain.tiles import Terrain


class Basis(Enum):
    """What plans stand on."""

    HEARD = "heard"  # predictions, corrected by the reports there are
    PREDICTED = "predicted"


def zone_of(folder: NetFolder) -> datetime.tzinfo:
    """The club's time zone; UTC where net.toml does not say when the net meets."""
    return datetime.UTC if folder.schedule is None else ZoneInfo(folder.schedule.timezone)


class Learned:
    """The reports of a net, and what they teach on each band.

    predicted networks of the net as it is are computed once and kept. band : see `band`.
    """

    def __init__(
        self, folder: NetFolder, terrain: Terrain, reports: Sequence[Stored], basis: Basis = Basis.HEARD
    ) -> None:
        self.net, self.terrain, self.basis = folder.net, terrain, basis
        self.all_reports = tuple(reports)
        self.zone = zone_of(folder)
        self._standing = tuple(stored.report for stored in standing(reports))
        self._simplex: dict[Channel, SimplexNetwork] = {}
        self._repeaters: dict[Repeater, RepeaterNetwork] = {}
        self._others: dict[Channel, SimplexNetwork] = {}
        self._other_hubs: dict[Repeater, RepeaterNetwork] = {}
        self._bands: dict[str, BandLearned | None] = {}

    @property
    def left_aside(self) -> tuple[Note, ...]:
        """That there are reports and plans do not use them; nothing otherwise."""
        if self.basis is Basis.HEARD or not self._standing:
            return ()
        said = f"As predicted: {counted(len(self._standing), 'report')} of who was really heard left aside."
        return (Note(NoteKind.HEARD, "", said),)

    @property
    def why_nothing(self) -> str:
        """Why nothing was learned, and what to do."""
        if not self.all_reports:
            return "there are no reports yet; `reach report FOLDER FILE` takes them in."
        return (
            f"none of the {len(self._standing)} reports can be learned from: lists must say who was not "
            "heard, too, of stations and channels of this net."
        )

    @property
    def bands(self) -> tuple[str, ...]:
        """Bands with reports, in the order of the net's channels and repeaters."""
        named = [band_of_channel(c) for c in self.net.channels] + [
            band_of_repeater(r) for r in self.net.repeaters
        ]
        return tuple(name for name in dict.fromkeys(named) if name and self.reports(name))

    def reports(self, band: str) -> tuple[Report, ...]:
        """The standing reports on a band's channels and repeaters."""
        media = self._media(band)
        return tuple(report for report in self._standing if report.on in media)

    def _media(self, band: str) -> set[str]:
        channels = {c.name for c in self.net.channels if band_of_channel(c) == band}
        return channels | {r.call_sign for r in self.net.repeaters if band_of_repeater(r) == band} | {band}

    def simplex(self, channel: Channel, *, watch: Watch) -> SimplexNetwork:
        """The predicted network of the net as it is. Raises : MissingTerrain, OutOfRange."""
        with watch(f"paths on {channel.frequency_mhz:.8g} MHz") as progress:
            if channel not in self._simplex:
                self._simplex[channel] = survey_simplex(self.net, self.terrain, channel, progress=progress)
        return self._simplex[channel]

    def repeater(self, repeater: Repeater, *, watch: Watch) -> RepeaterNetwork:
        """The predicted network of the net as it is. Raises : MissingTerrain, OutOfRange."""
        with watch(f"paths to {repeater.call_sign}") as progress:
            if repeater not in self._repeaters:
                self._repeaters[repeater] = survey_repeater(
                    self.net, self.terrain, repeater, progress=progress
                )
        return self._repeaters[repeater]

    def surveyed(self, channel: Channel) -> SimplexNetwork | None:
        """A predicted network on this channel, of the net or of most of its stations, where there is one."""
        return self._simplex.get(channel) or self._others.get(channel)

    def surveyed_repeater(self, repeater: Repeater) -> RepeaterNetwork | None:
        """The same of a repeater."""
        return self._repeaters.get(repeater) or self._other_hubs.get(repeater)

    def keep(self, network: SimplexNetwork | RepeaterNetwork) -> None:
        """Remember the first network of a channel or repeater that is not of the net as it is."""
        if isinstance(network, SimplexNetwork):
            self._others.setdefault(network.channel, network)
        else:
            self._other_hubs.setdefault(network.repeater, network)

    def band(self, name: str, *, watch: Watch) -> BandLearned | None:
        """What the band's reports teach; None without any, or where predictions are to stand.

        Raises : MissingTerrain, OutOfRange.
        """
        if self.basis is Basis.PREDICTED or not name:
            return None
        if name not in self._bands:
            self._bands[name] = self._fitted(name, watch=watch)
        return self._bands[name]

    def _fitted(self, name: str, *, watch: Watch) -> BandLearned | None:
        reports = self.reports(name)
        if not reports:
            return None
        model, frequency_mhz = self.model(name, watch=watch)
        hubs = [r.call_sign for r in self.net.repeaters if band_of_repeater(r) == name]
        found = evidence(reports, model, frequency_mhz=frequency_mhz, repeaters=hubs, zone=self.zone)
        if not found.facts:
            return None
        return BandLearned(name, found, fit(model, found.observations))

    def model(self, name: str, *, watch: Watch) -> tuple[BandModel, float]:
        """The model of a band as predicted, and the frequency it stands for, MHz."""
        channel = next(
            (c for c in self.net.channels if band_of_channel(c) == name), None
        ) or _listening_channel(next(r for r in self.net.repeaters if band_of_repeater(r) == name))
        hubs = [
            self.repeater(repeater, watch=watch)
            for repeater in self.net.repeaters
            if band_of_repeater(repeater) == name
        ]
        exact = {r.listener for r in self.reports(name) if r.level_dbm is not None}
        exact -= {r.listener for r in self.reports(name) if r.s_units is not None and r.level_dbm is None}
        model = band_model(
            self.simplex(channel, watch=watch),
            hubs,
            meter_sigma_db=dict.fromkeys(exact, CALIBRATED_METER_SIGMA_DB),
        )
        return model, channel.frequency_mhz


def band_of_channel(channel: Channel) -> str:
    """Name of a channel's band; its frequency outside every band known here."""
    return band_name(channel.frequency_mhz) or f"{channel.frequency_mhz:.8g} MHz"


def band_of_repeater(repeater: Repeater) -> str:
    """Name of a repeater's band, '' where it hears on one and sends on another: nothing is learned there."""
    names = {band_name(repeater.input_mhz), band_name(repeater.output_mhz)}
    return names.pop() if len(names) == 1 else ""


def _listening_channel(repeater: Repeater) -> Channel:
    """For a band with a repeater only: members against each other on its output, where they are heard too."""
    return Channel(f"{repeater.call_sign} direct", repeater.output_mhz, repeater.deviation_khz)
