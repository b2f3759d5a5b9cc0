"""The kinds of check-in, in the order in which a net calls them."""

from __future__ import annotations

from enum import Enum

from reach.stations import Category, Station


class CheckIn(Enum):
    """Order in which stations are called; `value` is the heading on the sheet and the word beside a
    station."""

    BRIEF = ("Brief: in and out", "brief")
    BATTERY = ("On battery: portable and handheld", "battery")
    INTERNET = ("Internet-linked: no radio path, call over the link", "internet")
    MOBILE = ("Mobile", "mobile")
    BASE = ("Base", "")

    @property
    def heading(self) -> str:
        """Heading of the group."""
        return self.value[0]

    @property
    def word(self) -> str:
        """Word beside each station."""
        return self.value[1]

    @property
    def said(self) -> str:
        """How it is said in a sentence: '2 on battery'."""
        return {CheckIn.BATTERY: "on battery", CheckIn.INTERNET: "internet-linked"}.get(self, self.key)

    @property
    def key(self) -> str:
        """How it is kept and asked for: 'brief', 'battery', 'internet', 'mobile', 'base'."""
        return self.name.lower()


def check_in_of(station: Station) -> CheckIn:
    """When a station is called: brief ones first, whatever they are."""
    if station.brief:
        return CheckIn.BRIEF
    return {
        Category.PORTABLE: CheckIn.BATTERY,
        Category.INTERNET: CheckIn.INTERNET,
        Category.MOBILE: CheckIn.MOBILE,
        Category.BASE: CheckIn.BASE,
    }[station.category]
