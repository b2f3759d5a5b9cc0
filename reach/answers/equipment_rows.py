"""Members and repeaters with their equipment, as rows for machines and in the words tables share."""

from __future__ import annotations

from collections.abc import Mapping

from reach.answers.sheet import Cell, Sheet
from reach.inputs.locators import locator_of
from reach.stations import Aim, Net, Repeater, Station

_COLUMNS = (
    "call_sign",
    "name",
    "category",
    "latitude_deg",
    "longitude_deg",
    "locator",
    "ground_m",
    "antenna_height_m",
    "power_dbm",
    "gain_dbi",
    "feed_loss_db",
    "sensitivity_dbm",
    "extra_loss_db",
    "surroundings",
    "local_noise_db",
    "backup",
    "bands",
    "beam",
    "control",
    "relay",
    "brief",
    "assumed",
)


def owners(net: Net) -> tuple[Station | Repeater, ...]:
    """Everyone with equipment, members first."""
    return (*net.stations, *net.repeaters)


def equipment_rows(net: Net, ground_m: Mapping[str, float | None]) -> Sheet:
    """A row a member and repeater, units in the headings. ground_m : above sea level, by call sign."""
    rows: list[tuple[Cell, ...]] = []
    for owner in owners(net):
        frequency_mhz = own_frequency_mhz(owner, net)
        member = owner if isinstance(owner, Station) else None
        on_air = member is None or member.has_radio_path
        rows.append(
            (
                owner.call_sign,
                owner.name,
                category_word(owner),
                owner.position.latitude_deg,
                owner.position.longitude_deg,
                locator_of(owner.position, characters=8) if owner.position.is_known else "",
                ground_m.get(owner.call_sign),
                owner.antenna.height_m if on_air else None,
                owner.transmit_power_dbm if on_air else None,
                owner.antenna.gain_dbi_at(frequency_mhz) if on_air else None,
                owner.feed_line.loss_db(frequency_mhz) if on_air else None,
                owner.sensitivity_dbm if on_air else None,
                member.extra_loss_db if member and on_air else None,
                " + ".join(surrounding.value for surrounding in owner.surroundings),
                owner.local_noise_db if on_air else None,
                backup_words(owner),
                ", ".join(member.bands) if member else None,
                _beam(owner),
                member.willing_control if member else None,
                member.willing_relay if member else None,
                member.brief if member else None,
                "; ".join(owner.assumed),
            )
        )
    return Sheet(_COLUMNS, tuple(rows))


def category_word(owner: Station | Repeater) -> str:
    """'base', 'mobile', 'portable', 'internet' or 'repeater'."""
    return owner.category.value if isinstance(owner, Station) else "repeater"


def own_frequency_mhz(owner: Station | Repeater, net: Net) -> float:
    """What a repeater transmits on; for a member the net's first simplex channel."""
    return owner.output_mhz if isinstance(owner, Repeater) else net.channels[0].frequency_mhz


def _beam(owner: Station | Repeater) -> str:
    """Where its beam points: degrees from true north, 'turns' or 'anywhere'; empty without one."""
    beam = owner.antenna.beam
    if beam is None:
        return ""
    return f"{beam.bearing_deg:.0f}" if beam.aim is Aim.FIXED else beam.aim.value


def backup_words(owner: Station | Repeater) -> str:
    """'no', 'battery', '8 h, 100 Ah'."""
    return owner.backup.words if owner.backup else "no"
