"""Paths that stand in a network surveyed before: what a change at one station leaves as it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from reach.inputs.bands import works_on
from reach.links.land import counted_once
from reach.links.network import SimplexNetwork
from reach.links.paths import PathEnd, SurveyedPaths, path_end
from reach.propagation.models import PathLossModel
from reach.stations import Channel, Net

Figure = TypeVar("Figure", bound=np.generic)


@dataclass(frozen=True)
class KnownPaths:
    """Which of the paths asked for a network holds already.

    network : surveyed on the same channel over the same ground. rows : (paths, 2) both ends' places in it,
    -1 for a path it does not hold.
    """

    network: SimplexNetwork
    rows: NDArray[np.intp]

    @property
    def to_survey(self) -> NDArray[np.intp]:
        """Places of the paths that are to be surveyed."""
        return np.flatnonzero(self.rows[:, 0] < 0)

    def joined(self, surveyed: SurveyedPaths) -> SurveyedPaths:
        """All paths asked for. surveyed : those of `to_survey`, at one frequency; its warnings are kept."""
        held = np.flatnonzero(self.rows[:, 0] >= 0)
        there = (self.rows[held, 0], self.rows[held, 1])
        back = (there[1], there[0])
        known = self.network
        assert known.land_loss_db is not None and known.effective_height_m is not None
        assert known.models_apart_db is not None and known.elevation_deg is not None
        assert known.path_kind is not None

        def of(new: NDArray[Figure], old: NDArray[Figure]) -> NDArray[Figure]:
            both = np.empty((len(self.rows), *new.shape[1:]), dtype=new.dtype)
            both[self.to_survey] = new
            both[held] = old.reshape(len(held), *new.shape[1:])
            return both

        return SurveyedPaths(
            distance_m=of(surveyed.distance_m, known.distance_m[there]),
            bearing_deg=of(surveyed.bearing_deg, known.bearing_deg[there]),
            return_bearing_deg=of(surveyed.return_bearing_deg, known.bearing_deg[back]),
            path_loss_db=of(surveyed.path_loss_db, known.path_loss_db[there]),
            line_of_sight=of(surveyed.line_of_sight, known.line_of_sight[there]),
            fresnel_clearance=of(surveyed.fresnel_clearance, known.fresnel_clearance[there]),
            tx_end_db=of(surveyed.tx_end_db, known.land_loss_db[there]),
            rx_end_db=of(surveyed.rx_end_db, known.land_loss_db[back]),
            kind=of(surveyed.kind, known.path_kind[there]),
            models_apart_db=of(surveyed.models_apart_db, known.models_apart_db[there]),
            tx_effective_height_m=of(surveyed.tx_effective_height_m, known.effective_height_m[there]),
            rx_effective_height_m=of(surveyed.rx_effective_height_m, known.effective_height_m[back]),
            elevation_deg=of(surveyed.elevation_deg, known.elevation_deg[there]),
            return_elevation_deg=of(surveyed.return_elevation_deg, known.elevation_deg[back]),
            warnings=surveyed.warnings,
        )


def known_paths(
    known: SimplexNetwork | None,
    net: Net,
    channel: Channel,
    model: PathLossModel,
    ends: Sequence[PathEnd],
    pairs: Sequence[tuple[int, int]],
) -> KnownPaths | None:
    """The paths between pairs of ends that a network holds; None when it holds nothing of use.

    A path is taken where both its ends stand, and are said to stand, as they do in the network, and come in
    the same order: so it is the very path a survey would find.
    """
    if known is None or known.effective_height_m is None or not pairs:
        return None
    if (known.channel.frequency_mhz, known.channel.polarisation) != (
        channel.frequency_mhz,
        channel.polarisation,
    ):
        return None
    if known.model != model.name or _ground(known.net) != _ground(net):
        return None
    there = {
        end: number
        for number, station in enumerate(known.net.stations)
        if station.has_radio_path and works_on(station, channel.frequency_mhz)
        for end in (path_end(counted_once(station, model.sees)),)
    }
    place = np.array([there.get(end, -1) for end in ends], dtype=np.intp)
    rows = place[np.array(pairs, dtype=np.intp)]
    rows[(rows.min(axis=1) < 0) | (rows[:, 0] >= rows[:, 1])] = -1
    return KnownPaths(known, rows) if (rows[:, 0] >= 0).any() else None


def _ground(net: Net) -> tuple[object, ...]:
    """What lies between any two places of a net, and how it is looked at."""
    return (
        net.terrain_folders,
        net.elevation_unit,
        net.land_cover,
        net.clutter_heights_m,
        net.surface,
        net.k_factor,
    )
