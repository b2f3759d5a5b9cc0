"""What the events of an evening add up to; undoing and redoing against a plain model of a list of acts."""

from __future__ import annotations

import datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from reach.evening.acts import (
    Act,
    Amended,
    Asked,
    CheckedIn,
    Closed,
    Fragment,
    HandedOver,
    Left,
    Missed,
    Named,
    Opened,
    Resolved,
    Screen,
    Served,
    Undone,
    Waits,
    Want,
)
from reach.evening.check_ins import CheckIn
from reach.evening.fold import Evening, Event, fold

START = datetime.datetime(2026, 11, 24, 18, 30, tzinfo=datetime.UTC)


def events(*acts: Act) -> tuple[Event, ...]:
    return tuple(Event(k, START + datetime.timedelta(minutes=k), 60, act) for k, act in enumerate(acts, 1))


def after(*acts: Act) -> Evening:
    return fold(events(Opened(on="two metres", control="QK3ABC"), *acts))


def in_(call: str, **more: object) -> CheckedIn:
    return CheckedIn(call=call, kind=more.pop("kind", CheckIn.BASE), **more)  # type: ignore[arg-type]


def test_an_evening_without_events_has_no_list() -> None:
    assert fold(()).sitting is None and fold(()).undo is None


def test_stations_stand_in_the_order_they_came() -> None:
    sitting = after(in_("QK3DEF"), in_("QK3GHI", kind=CheckIn.MOBILE), in_("QK3JKL")).sitting
    assert sitting is not None
    assert sitting.calls == ("QK3DEF", "QK3GHI", "QK3JKL")
    assert sitting.present == ("QK3ABC", "QK3DEF", "QK3GHI", "QK3JKL")
    assert [entry.call for entry in sitting.of_kind(CheckIn.BASE)] == ["QK3DEF", "QK3JKL"]


def test_a_second_check_in_tells_more_of_the_same_entry() -> None:
    sitting = after(in_("QK3DEF"), in_("QK3GHI"), in_("QK3DEF", heard=4)).sitting
    assert sitting is not None
    entry = sitting.entries[0]
    assert (entry.call, entry.seq, entry.said.heard) == ("QK3DEF", 2, 4) and len(sitting.entries) == 2


def test_an_entry_is_corrected_with_its_time() -> None:
    at = START + datetime.timedelta(hours=1)
    sitting = after(in_("QK3DEF"), Amended(call="QK3DEG", kind=CheckIn.BRIEF, of=2, at=at)).sitting
    assert sitting is not None
    assert (sitting.entries[0].call, sitting.entries[0].at) == ("QK3DEG", at)


def test_who_waits_is_served_and_who_leaves_is_not_on_the_air() -> None:
    wants = (Waits(call="QK3DEF", want=Want.CALL_BACK), Waits(call="QK3DEF", want=Want.SECOND_TURN))
    sitting = after(in_("QK3DEF"), *wants, Served(call="QK3DEF", want=Want.CALL_BACK)).sitting
    assert sitting is not None and sitting.entries[0].waits == (Want.SECOND_TURN,)
    left = after(in_("QK3DEF"), Left(call="QK3DEF")).sitting
    assert left is not None and left.present == ("QK3ABC",) and left.calls == ("QK3DEF",)


def test_asking_ends_with_the_answer() -> None:
    ask = Asked(call="QK3DEF", relay="QK3GHI")
    asked = after(ask).sitting
    assert asked is not None and asked.asked == {"QK3DEF": "QK3GHI"}
    missed = after(ask, Missed(call="QK3DEF", by="QK3GHI")).sitting
    assert missed is not None and not missed.asked and missed.missed[0].by == "QK3GHI"
    heard = after(ask, in_("QK3DEF", through="QK3GHI")).sitting
    assert heard is not None and not heard.asked


def test_fragments_stay_until_they_are_made_out() -> None:
    sitting = after(Fragment(text="DE"), Fragment(text="3G"), Resolved(of=2, call="QK3DEF")).sitting
    assert sitting is not None and [one.text for one in sitting.fragments] == ["3G"]


def test_handing_over_keeps_everything_and_names_who_noted_what() -> None:
    sitting = after(in_("QK3DEF"), HandedOver(to="QK3GHI"), in_("QK3JKL")).sitting
    assert sitting is not None and sitting.control == "QK3GHI"
    assert [entry.control for entry in sitting.entries] == ["QK3ABC", "QK3GHI"]


def test_going_on_elsewhere_begins_a_list_and_keeps_the_first() -> None:
    evening = after(in_("QK3DEF"), Named(call="QK3DEF", name="Dee"), Opened(on="QK3RA", control="QK3ABC"))
    assert [sitting.calls for sitting in evening.sittings] == [("QK3DEF",), ()]
    assert evening.names == {"QK3DEF": "Dee"}


def test_the_opening_itself_is_never_taken_back() -> None:
    assert after().undo is None
    assert after(Screen(dark=True)).undo is None


def test_closing_can_be_taken_back() -> None:
    closed = after(Closed())
    assert closed.sitting is not None and closed.sitting.closed is not None
    again = after(Closed(), Undone(of=2))
    assert again.sitting is not None and again.sitting.closed is None


KEYS = st.lists(st.sampled_from(["undo", "redo", "in", "in", "in", "screen"]), max_size=40)


@settings(max_examples=150, deadline=None)
@given(KEYS)
def test_undo_and_redo_are_those_of_any_editor(keys: list[str]) -> None:
    """Against two stacks: what was done, and what was taken back since the last new act."""
    acts: list[Act] = [Opened(on="two metres", control="QK3ABC")]
    done: list[str] = []
    undone: list[str] = []
    for number, key in enumerate(keys):
        evening = fold(events(*acts))
        if key == "in":
            call = f"QK3A{chr(65 + number // 26)}{chr(65 + number % 26)}"
            acts.append(in_(call))
            done.append(call)
            undone.clear()
        elif key == "screen":
            acts.append(Screen(dark=number % 2 == 0))
        elif key == "undo":
            assert (evening.undo is None) == (not done)
            if evening.undo is not None:
                acts.append(Undone(of=evening.undo.seq))
                undone.append(done.pop())
        else:
            assert (evening.redo is None) == (not undone)
            if evening.redo is not None:
                acts.append(Undone(of=evening.redo.seq))
                done.append(undone.pop())
        sitting = fold(events(*acts)).sitting
        assert sitting is not None and list(sitting.calls) == done
