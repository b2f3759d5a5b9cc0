"""A band's posterior put into predicted networks: margins, spreads and chances as reports leave them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reach.learning.band import station_priors
from reach.learning.evidence import Evidence
from reach.learning.fit import Posterior
from reach.learning.model import LOCALS, FloatArray, IntArray, functionals
from reach.links.lasting import HeardEnd, LastingDoubt
from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork, SimplexNetwork
from reach.lists import counted
from reach.notes import Note, NoteKind
from reach.propagation.variability import SigmaParts, chance_of_working


@dataclass(frozen=True)
class BandLearned:
    """What reports of a band have taught. name : '2 m'."""

    name: str
    evidence: Evidence
    posterior: Posterior

    @property
    def facts_by_pair(self) -> dict[frozenset[str], int]:
        """How many facts stand behind each pair that has any."""
        found: dict[frozenset[str], int] = {}
        for fact in self.evidence.facts:
            pair = frozenset((fact.sender, fact.listener))
            found[pair] = found.get(pair, 0) + 1
        return found

    def note(self, pairs: list[frozenset[str]]) -> Note:
        """How far links between these pairs stand on reports, said on every plan."""
        behind = self.facts_by_pair
        own = sum(pair in behind for pair in pairs)
        facts, nets = len(self.evidence.facts), len(self.evidence.nets)
        return Note(
            NoteKind.HEARD,
            self.name,
            f"{own} of these {len(pairs)} links corrected by {counted(facts, 'report')} of "
            f"{counted(nets, 'evening')}; the others move with their stations. --as-predicted plans without.",
        )


def corrected_simplex(network: SimplexNetwork, learned: BandLearned) -> SimplexNetwork:
    """The network as the reports leave it; the evening's spread stays as predicted.

    A station nobody was fitted with (a what-if's) keeps its own spread and takes the band's correction.
    """
    doubt, stray = _doubt(network, learned.posterior)
    margin_db = network.margin_db + stray
    time_db = network.time_sigma_db
    assert time_db is not None
    sigma_db = np.sqrt(doubt.variance + time_db**2)
    n = len(network.call_signs)
    pairs = [
        frozenset((network.call_signs[i], network.call_signs[j]))
        for i in range(n)
        for j in range(i + 1, n)
        if np.isfinite(margin_db[i, j])
    ]
    return replace(
        network,
        margin_db=margin_db,
        received_dbm=network.received_dbm + stray,
        sigma_db=sigma_db,
        chance=np.nan_to_num(chance_of_working(margin_db, sigma_db), nan=0.0),
        lasting=doubt,
        warnings=(learned.note(pairs), *network.warnings),
    )


def _doubt(network: SimplexNetwork, found: Posterior) -> tuple[LastingDoubt, FloatArray]:
    """The doubt of every direction, and by how much its mean strays from the prediction, dB."""
    path, site, noise = network.path_sigma_db, network.station_sigma_db, network.receive_sigma_db
    assert path is not None and site is not None and noise is not None
    calls, n = network.call_signs, len(network.call_signs)
    mean, covariance, globals_of = _with_newcomers(network, found, site, noise)
    shared = np.zeros((n, n, LOCALS), dtype=np.int64)
    for part in range(5):
        shared[:, :, 1 + 2 * part] = globals_of[:, part][:, np.newaxis]
        shared[:, :, 2 + 2 * part] = globals_of[:, part][np.newaxis, :]
    loading = np.broadcast_to(functionals()[0], (n, n, LOCALS)).copy()
    own_mean = np.zeros((n, n))
    own_sigma = found.path_scale * path
    place = {call: k for k, call in enumerate(calls)}
    of_pair = found.loadings
    turned = [0, 2, 1, 4, 3, 6, 5, 8, 7, 10, 9]  # the same locals with the two stations exchanged
    for k, (a, b) in enumerate(found.model.pairs.tolist()):
        i, j = (place.get(found.model.call_signs[s], -1) for s in (a, b))
        if i < 0 or j < 0 or not found.weight[k].any():
            continue
        loading[i, j] = of_pair[k, 0]
        loading[j, i] = of_pair[k, 1][turned]
        own_mean[i, j] = own_mean[j, i] = found.path_shift[k] / found.path_precision[k]
        own_sigma[i, j] = own_sigma[j, i] = found.path_precision[k] ** -0.5
    stray = (loading * mean[shared]).sum(axis=-1) + own_mean
    pushed = np.empty((n, n))
    back = np.empty((n, n))
    turned_loading, turned_shared = loading.transpose(1, 0, 2), shared.transpose(1, 0, 2)
    for i in range(n):  # a row at a time: (n, k, k) blocks
        block = covariance[shared[i][:, :, np.newaxis], shared[i][:, np.newaxis, :]]
        pushed[i] = np.einsum("nk,nkl,nl->n", loading[i], block, loading[i])
        across = covariance[shared[i][:, :, np.newaxis], turned_shared[i][:, np.newaxis, :]]
        back[i] = np.einsum("nk,nkl,nl->n", loading[i], across, turned_loading[i])
    gap = np.where(np.isfinite(network.margin_db), 0.0, np.nan)
    doubt = LastingDoubt(
        root=np.asarray(np.linalg.cholesky(covariance), dtype=np.float64),
        shared=shared,
        loading=loading,
        own_sigma_db=own_sigma,
        variance=pushed + own_sigma**2 + gap,
        covariance=back + own_sigma**2 + gap,
    )
    return doubt, stray + gap


def _with_newcomers(
    network: SimplexNetwork, found: Posterior, site: FloatArray, noise: FloatArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Globals of the fit and of stations it does not know; and where each station's (n, 5) stand."""
    known = {call: k for k, call in enumerate(found.model.call_signs)}
    fitted = len(known)
    new = [k for k, call in enumerate(network.call_signs) if call not in known]
    common, send, hear = station_priors(network.net, network.call_signs, site, noise)
    ones = np.ones(len(network.call_signs))
    size = len(found.mean)
    mean = np.concatenate([found.mean, np.zeros(5 * len(new))])
    covariance = np.zeros((len(mean), len(mean)))
    covariance[:size, :size] = found.covariance
    where = np.zeros((len(network.call_signs), 5), dtype=np.int64)
    for k, call in enumerate(network.call_signs):
        if call in known:
            where[k] = 1 + np.arange(5) * fitted + known[call]
    for order, k in enumerate(new):
        where[k] = size + 5 * order + np.arange(5)
        covariance[where[k], where[k]] = np.array([common[k], send[k], hear[k], ones[k], ones[k]]) ** 2
    return mean, covariance, where


def heard_end(
    learned: BandLearned, call_sign: str, *, site_sigma_db: float, noise_sigma_db: float
) -> HeardEnd:
    """A station or repeater as the end of paths nobody reported on: its own offsets and the band's.

    site_sigma_db, noise_sigma_db : as stated; they stand for one that was not fitted.
    """
    found = learned.posterior
    names, mean, covariance = found.model.call_signs, found.mean, found.covariance
    if call_sign not in names:
        band_db = float(mean[0])
        out_variance = float(covariance[0, 0]) + site_sigma_db**2
        in_variance = out_variance + noise_sigma_db**2
        return HeardEnd(band_db, band_db, in_variance**0.5, out_variance**0.5, out_variance, found.path_scale)
    n, at = len(names), names.index(call_sign)
    common, send, hear = (1 + part * n + at for part in range(3))
    hears, is_heard = [0, common, hear], [0, common, send]
    in_sigma_db, out_sigma_db = (
        float(covariance[np.ix_(own, own)].sum()) ** 0.5 for own in (hears, is_heard)
    )
    return HeardEnd(
        float(mean[hears].sum()),
        float(mean[is_heard].sum()),
        in_sigma_db,
        out_sigma_db,
        float(covariance[np.ix_(hears, is_heard)].sum()),
        found.path_scale,
    )


def corrected_repeater(network: RepeaterNetwork, learned: BandLearned) -> RepeaterNetwork:
    """The network as the reports leave it. A member that was not fitted keeps its prediction."""
    found = learned.posterior
    stray, covariance = found.strays()
    number = {
        (found.model.call_signs[i], found.model.call_signs[j]): k
        for k, (i, j) in enumerate(found.model.pairs.tolist())
    }
    hub = network.repeater.call_sign
    members = []
    for member in network.members:
        k = number.get((member.call_sign, hub))
        if k is None:
            members.append(member)
            continue
        ins, outs = _parts(covariance[k], member.talk_in, member.talk_out)
        members.append(
            RepeaterMember(
                member.call_sign,
                corrected_link(member.talk_in, float(stray[k, 0]), ins),
                corrected_link(member.talk_out, float(stray[k, 1]), outs),
            )
        )
    pairs = [frozenset((m.call_sign, hub)) for m in members if np.isfinite(m.talk_in.margin_db)]
    return replace(network, members=tuple(members), warnings=(learned.note(pairs), *network.warnings))


def _parts(covariance: FloatArray, there: DirectedLink, back: DirectedLink) -> tuple[SigmaParts, SigmaParts]:
    times = [0.0 if link.spread is None else float(link.spread.time_db) for link in (there, back)]
    lasting = LastingDoubt(
        np.zeros((0, 0)),
        np.zeros((2, 2, 0), dtype=np.int64),
        np.zeros((2, 2, 0)),
        np.zeros((2, 2)),
        variance=np.array([[np.nan, covariance[0, 0]], [covariance[1, 1], np.nan]]),
        covariance=np.array([[np.nan, covariance[0, 1]], [covariance[0, 1], np.nan]]),
    ).parts(np.array([[np.nan, times[0]], [times[1], np.nan]]))

    def at(i: int, j: int) -> SigmaParts:
        path, noise, time = (
            float(np.asarray(part)[i, j]) for part in (lasting.path_db, lasting.rx_noise_db, lasting.time_db)
        )
        return SigmaParts(path, 0.0, 0.0, time, noise)

    return at(0, 1), at(1, 0)


def corrected_link(link: DirectedLink, stray_db: float, spread: SigmaParts) -> DirectedLink:
    """A link moved by what was heard, with the spread that is left."""
    margin_db, sigma_db = link.margin_db + stray_db, float(spread.total_db)
    return replace(
        link,
        margin_db=margin_db,
        received_dbm=link.received_dbm + stray_db,
        sigma_db=sigma_db,
        spread=spread,
        chance=float(np.nan_to_num(chance_of_working(margin_db, sigma_db), nan=0.0)),
    )
