"""Acts as a page sends them: read back as they were, refused in one sentence otherwise."""

from __future__ import annotations

import json

import pytest

from reach.errors import InputProblem
from reach.evening.acts import ACTS, CheckedIn, Opened, Want, about, act_body, act_name, read_act
from reach.evening.check_ins import CheckIn

WHOLE = {
    "opened": {"on": "two metres", "control": "qk3abc"},
    "checked in": {"call": "QK3DEF", "kind": "mobile", "heard": 5, "traffic": True, "through": "QK3ABC"},
    "amended": {"call": "QK3DEF", "kind": "base", "of": 2, "at": "2026-11-24T19:42:00+01:00"},
    "fragment": {"text": "DE"},
    "resolved": {"of": 4, "call": ""},
    "named": {"call": "QK9ZZZ", "name": "Zoë"},
    "asked": {"call": "QK3DEF", "relay": "QK3GHI"},
    "missed": {"call": "QK3DEF", "by": "QK3GHI"},
    "waits": {"call": "QK3DEF", "want": "second turn"},
    "served": {"call": "QK3DEF", "want": "call back"},
    "left": {"call": "QK3DEF"},
    "handed over": {"to": "QK3GHI"},
    "list complete": {"call": "QK3ABC", "complete": True},
    "at step": {"step": 3},
    "noted": {"call": "QK3DEF", "text": "speaks softly"},
    "clock changed": {"seconds": -3600},
    "screen": {"dark": True},
    "closed": {},
    "undone": {"of": 7},
}


@pytest.mark.parametrize("name", ACTS)
def test_every_act_is_kept_and_read_back_as_it_was(name: str) -> None:
    act = read_act(name, WHOLE[name])
    assert act_name(act) == name
    assert read_act(name, json.loads(json.dumps(act_body(act)))) == act


def test_what_is_left_out_is_not_said() -> None:
    act = read_act("checked in", {"call": "qk3def", "kind": "battery"})
    assert act == CheckedIn(call="QK3DEF", kind=CheckIn.BATTERY)
    assert about(act) == "QK3DEF" and about(Opened(on="two metres", control="QK3ABC")) == ""
    assert read_act("waits", WHOLE["waits"]).want is Want.SECOND_TURN  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("name", "body", "says"),
    [
        ("shouted", {}, "nothing that can be noted"),
        (["checked in"], {}, "nothing that can be noted"),
        ("checked in", [], "has no fields"),
        ("checked in", {"kind": "base"}, "needs call"),
        ("checked in", {"call": "QK3DEF", "kind": "base", "rank": 1}, 'no field "rank"'),
        ("checked in", {"call": "hello there", "kind": "base"}, "not a call sign"),
        ("checked in", {"call": "QK3DEF", "kind": "boat"}, "no kind of check-in"),
        ("checked in", {"call": "QK3DEF", "kind": "base", "heard": 6}, "from 1 to 5"),
        ("checked in", {"call": "QK3DEF", "kind": "base", "heard": True}, "from 1 to 5"),
        ("checked in", {"call": "QK3DEF", "kind": "base", "traffic": "yes"}, "neither yes nor no"),
        ("checked in", {"call": "QK3DEF", "kind": "base", "remark": "x" * 501}, "501 characters"),
        ("checked in", {"call": "QK3DEF", "kind": "base", "through": "QK3DEF"}, "its own relay"),
        ("named", {"call": "QK9ZZZ", "name": "x" * 61}, "61 characters"),
        ("amended", {"call": "QK3DEF", "kind": "base", "of": 2, "at": "19:42"}, "no time"),
        ("amended", {"call": "QK3DEF", "kind": "base", "of": 2, "at": "2026-11-24T19:42"}, "no time zone"),
        ("waits", {"call": "QK3DEF", "want": "tea"}, "nothing a station waits for"),
        ("undone", {"of": 0}, "from 1"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(name: object, body: object, says: str) -> None:
    with pytest.raises(InputProblem) as refused:
        read_act(name, body)
    assert says in str(refused.value)
