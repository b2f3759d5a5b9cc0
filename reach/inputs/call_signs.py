"""Call signs and names as typed."""

from __future__ import annotations

import re

from reach.inputs.quantities import quoted, refuse

# a call sign's shape: one to three characters, a digit, up to four more ending in a letter (ITU Radio
# Regulations 19.67-19.69, simplified), with prefixes and suffixes behind strokes
_CALL_SIGN_SHAPE = re.compile(
    r"([A-Z0-9]{1,4}/)?[A-Z0-9]{1,3}[0-9][A-Z0-9]{0,3}[A-Z](/[A-Z0-9]{1,4})*", re.ASCII
)
_LONGEST_CALL_SIGN = 20
_LONGEST_NAME = 80


def parse_call_sign(text: str) -> str:
    """A call sign in capitals, of any shape up to 20 characters without spaces. Raises : InputProblem."""
    call_sign = text.strip().upper()
    if not call_sign or len(call_sign) > _LONGEST_CALL_SIGN or re.search(r"\s", call_sign):
        raise refuse(
            f"{quoted(text)} is not a call sign", "write up to 20 characters without spaces, e.g. QK3ABC"
        )
    return call_sign


def has_call_sign_shape(call_sign: str) -> bool:
    """Whether a call sign in capitals looks like one."""
    return _CALL_SIGN_SHAPE.fullmatch(call_sign) is not None


def parse_name(text: str) -> str:
    """A name of up to 80 characters. Raises : InputProblem."""
    if len(text) > _LONGEST_NAME:
        raise refuse(f"{quoted(text)} has {len(text)} characters", f"shorten it to {_LONGEST_NAME}")
    return text
