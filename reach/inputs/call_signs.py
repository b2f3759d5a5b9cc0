"""Call signs and names as typed."""

from __future__ import annotations

import re

from reach.inputs.quantities import quoted, refuse

# ITU Radio Regulations, Article 19 (19.45-19.69; from memory): a prefix of one to three letters and digits
# with a letter among its first two, a digit, then up to seven characters ending in a letter; special-event
# calls are the long ones. Before it may stand the prefix of another country, behind it what the trade adds:
# /P, /M, /R, /9, -7 (common practice, no source).
_CALL_SIGN = re.compile(
    r"([A-Z0-9]{1,4}/)?([A-Z][A-Z0-9]{0,2}|[0-9][A-Z][A-Z0-9]?)[0-9][A-Z0-9]{0,6}[A-Z]"
    r"(/[A-Z0-9]{1,6}){0,3}(-[A-Z0-9]{1,2})?",
    re.ASCII,
)
_LONGEST_CALL_SIGN = 20
_LONGEST_NAME = 80


def parse_call_sign(text: str) -> str:
    """A call sign in capitals, as the ITU forms them, with room for suffixes. Raises : InputProblem."""
    call_sign = text.strip().upper()
    if len(call_sign) > _LONGEST_CALL_SIGN or not _CALL_SIGN.fullmatch(call_sign):
        raise refuse(
            f"{quoted(text)} is not a call sign",
            "write it as the licence has it, with /P, /M or /R behind where needed, e.g. QK3ABC or QK3RA/R",
        )
    return call_sign


def parse_name(text: str) -> str:
    """A name of up to 80 characters. Raises : InputProblem."""
    if len(text) > _LONGEST_NAME:
        raise refuse(f"{quoted(text)} has {len(text)} characters", f"shorten it to {_LONGEST_NAME}")
    return text
