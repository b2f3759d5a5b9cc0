"""The cautions that come with a place to go to: worded once, here."""

from __future__ import annotations

VISIT = (
    "Road access, the owner's permission and what stands there are not known to this search: look at a map, "
    "ask, and visit before the day."
)
PORTABLE_MAST = (
    "Put no mast where it could fall on a power line or one could fall on it; not on high ground in a "
    "thunderstorm. Guy it, keep people out from under it, and follow your licence for unattended relays."
)
STOPPING = "Stop only where it is safe and allowed; never transmit while driving in traffic you must watch."
