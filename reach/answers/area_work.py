"""What an area will take: its sites and stations settled, the memory known, before anything is computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.coverage.area.memory import check_memory, megabytes
from reach.coverage.area.service import (
    Hub,
    StationKind,
    repeater_hub,
    station_hub,
    usual_station,
)
from reach.coverage.area.sites import SiteJob, site_job
from reach.errors import Fault, InputProblem
from reach.inputs.lookup import find_channel, find_party
from reach.machinery.executor import Cluster, Executor, Here
from reach.machinery.parallel import cores
from reach.stations import Channel, Net, NoiseEnvironment, Repeater, Station
from reach.units import length_in_words


@dataclass(frozen=True)
class AreaWork:
    """What is to be computed, and by whom.

    parties, jobs : the sites in the order asked for. station : what stands in the cells.
    memory_bytes : the most it takes, the program itself included.
    """

    parties: tuple[Station | Repeater, ...]
    kind: StationKind
    station: Station
    jobs: tuple[SiteJob, ...]
    executor: Executor
    memory_bytes: int

    @property
    def radius_m(self) -> float:
        """How far round each site, m."""
        return self.jobs[0].radius_m

    @property
    def cell_m(self) -> float:
        """Side of a cell, m."""
        return self.jobs[0].cell_m

    @property
    def memory_sentence(self) -> str:
        """What it takes, to be said before it starts."""
        return (
            f"takes about {megabytes(self.memory_bytes)} of memory for {length_in_words(self.radius_m)} "
            f"on {length_in_words(self.cell_m)} cells."
        )


def area_work(
    net: Net,
    call_signs: Sequence[str],
    *,
    kind: StationKind,
    radius_m: float,
    cell_m: float,
    noise: NoiseEnvironment | None = None,
    channel: str | None = None,
    cluster: str | None = None,
) -> AreaWork:
    """The area round repeaters and members, for a usual station of a kind in every cell.

    call_signs : at least one, any case, each taken once. noise : where that station stands; the net's when
    None. channel : for members, by name or frequency; the net's first unless named. cluster : address of a
    Dask scheduler to compute on; without, sites are computed here, as many side by side as there are cores.
    Raises : InputProblem, OutOfRange naming the site; ReachError when it would not fit in memory or no
    cluster answers.
    """
    on = find_channel(net, channel)
    parties = tuple(
        find_party(net, call) for call in dict.fromkeys(call.strip().upper() for call in call_signs)
    )
    hubs = [_hub(party, on, net) for party in parties]
    station = usual_station(kind, noise=noise)
    jobs = tuple(site_job(hub, station, net, radius_m=radius_m, cell_m=cell_m) for hub in hubs)
    executor = Here() if cluster is None else Cluster.at(cluster)
    beside = min(len(hubs), cores()) if isinstance(executor, Here) else 0
    needed = check_memory([hub.position for hub in hubs], radius_m=radius_m, cell_m=cell_m, beside=beside)
    return AreaWork(parties, kind, station, jobs, executor, needed)


def _hub(party: Station | Repeater, channel: Channel, net: Net) -> Hub:
    if isinstance(party, Repeater):
        return repeater_hub(party, net)
    if not party.has_radio_path:
        raise InputProblem(
            Fault(f"{party.call_sign} is linked over the internet and has no radio path", "name another")
        )
    return station_hub(party, channel, net)
