"""The spoken wording: filled in and chosen; nothing in it can keep the machine busy."""

from __future__ import annotations

import resource
import time

import pytest

from reach.drawings.papers.script import PARTS, Script, default_script
from reach.errors import InputProblem

KNOWN = {"control": "QK3ABC", "relays": "", "fallback": "146.580 MHz"}


def script(opening: str) -> Script:
    return Script(f"[opening]\n{opening}\n" + "".join(f"[{part}]\n" for part in PARTS[1:]))


def test_words_are_filled_in_and_chosen() -> None:
    text = "This is {{ control }}{% if relays %}, thanks {{ relays }}{% else %}, alone{% endif %}."
    assert script(text).say("opening", KNOWN) == "This is QK3ABC, alone."
    assert script("{{ control | lower }}").say("opening", KNOWN) == "qk3abc"
    assert script("{% if control == 'QK3ABC' and not relays %}yes{% endif %}").say("opening", KNOWN) == "yes"


ENDLESS = {
    "huge repetition": "{{ 'x' * 10**9 }}",
    "repetition of a list": "{{ [0] * 10**10 }}",
    "power": "{{ 9 ** 9 ** 9 }}",
    "loop": "{% for i in range(99999) %}{% for j in range(99999) %}x{% endfor %}{% endfor %}",
    "recursion": "{% macro a() %}{{ a() }}{% endmacro %}{{ a() }}",
    "recursive loop": "{% for i in [[[]]] recursive %}{{ loop([[[i]]]) }}{% endfor %}",
    "doubling": "{% set x = 'ab' %}" + "{% set x = x ~ x %}" * 60 + "{{ x }}",
    "padding": "{{ control.ljust(10**10) }}",
    "filter": "{{ control | center(10**10) }}",
    "format": "{{ '%10000000000d' % 1 }}",
    "itself": "{% include 'script.txt' %}",
    "attribute": "{{ control.__class__.__mro__ }}",
    "brackets": "{{ " + "(" * 7000 + "control" + ")" * 7000 + " }}",
    "nots": "{{ " + "not " * 3600 + "control }}",
    "ifs": "{% if control %}" * 540 + "{% endif %}" * 540,
    "open braces": "{{" * 7000,
    "open blocks": "{% if " * 2400,
    "unclosed comment": "{#" * 7000,
    "spaces": "{{ control" + " " * 14000,
    "long words": "{{ fallback }}" * 1000,
}


@pytest.mark.parametrize("opening", ENDLESS.values(), ids=ENDLESS.keys())
def test_nothing_runs_away(opening: str) -> None:
    """Refused in a line that names the file, within a second of the processor and little memory."""
    known = {**KNOWN, "fallback": "146.580 MHz, then " * 5000}
    before_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began_s = time.process_time()
    with pytest.raises(InputProblem) as refused:
        script(opening).say("opening", known)
    took_s = time.process_time() - began_s
    grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kb) / 1024
    assert str(refused.value).startswith("script.txt")
    assert "\n" not in str(refused.value)
    assert took_s < 1.0 and grown_mb < 100.0


def test_a_script_of_any_length_is_refused_before_it_is_read() -> None:
    with pytest.raises(InputProblem, match=r"script\.txt: is longer"):
        Script("x" * 10_000_000)


def test_the_line_of_the_fault_is_named() -> None:
    with pytest.raises(InputProblem, match=r"script.txt, row 3: \[opening\]: a loop is not understood"):
        script("Hello.\n{% for a in control %}{% endfor %}").say("opening", KNOWN)


def test_the_wording_built_in_is_within_the_rules() -> None:
    known = dict.fromkeys(
        ("net_name", "date", "time", "control", "control_spoken", "control_name", "frequency", "channel",
         "fallback", "relays", "stand_in", "relay", "relay_spoken", "relay_name", "members", "second"),
        "word",
    )  # fmt: skip
    built_in = Script(default_script())
    assert all("word" in built_in.say(part, known) for part in ("opening", "relay", "closing"))
