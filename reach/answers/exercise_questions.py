"""An exercise to hand out: what operators are asked, what the leader knows, and the contacts to try."""

from __future__ import annotations

from dataclasses import dataclass

from reach.answers.exercise import ExerciseAnswer
from reach.answers.outages import asked_words, frequency_words, relay_sentences
from reach.answers.sheet import Cell, Sheet
from reach.plans.outages.backup import OutagePlan
from reach.plans.outages.exercise import ExerciseRound

QUESTIONS = (
    "Where does the net meet, and who is net control?",
    "Who takes over when net control is silent?",
    "Who relays for whom, and what does each relay listen to?",
    "Who cannot be reached, and why?",
    "Where do you call, and whom?",
)
REPORT_COLUMNS = ("date", "time", "station", "hears", "on", "heard", "readability", "list", "round")


@dataclass(frozen=True)
class RoundQuestions:
    """One round. situation : what has happened; answers : for the leader, one for each of QUESTIONS but the
    last, which is the operator's own.
    """  # fmt: skip

    number: int
    situation: str
    answers: tuple[str, ...]


def round_questions(found: ExerciseAnswer) -> tuple[RoundQuestions, ...]:
    """Every round of an exercise as questions with their answers."""
    return tuple(
        RoundQuestions(r.number, f"{r.outage.words}.", _answers(found, r.plan)) for r in found.rounds
    )


def _answers(found: ExerciseAnswer, plan: OutagePlan) -> tuple[str, ...]:
    if not plan.control:
        return (f"There is no net. {plan.lack}".strip(), "Nobody.", "Nobody.", "Nobody can.")
    channel = found.survey.simplex.channel
    stand_in = plan.stand_in
    relays = relay_sentences(plan, channel)
    out = []
    if plan.cut_off:
        out.append(f"Out of reach: {', '.join(plan.cut_off)}.")
    if plan.standing.dark:
        out.append(f"No power: {', '.join(plan.standing.dark)}.")
    if plan.standing.absent:
        out.append(f"Absent: {', '.join(plan.standing.absent)}.")
    return (
        f"On {plan.hub or frequency_words(channel)} under {asked_words(plan.control, willing=plan.willing)}; "
        f"{len(plan.in_net)} of {len(plan.standing.members)} on the air take part.",
        f"{asked_words(stand_in.call_sign, willing=stand_in.willing)}." if stand_in else "Nobody.",
        " ".join(relays) or "Nobody needs to.",
        " ".join(out) or "Nobody: all are in the net.",
    )


def contact_form(found: ExerciseAnswer) -> Sheet:
    """Every contact the rounds rely on, both ways, once each, with the cells for the result left empty.

    The columns are those of a report of who was heard; 'test' says that a call was made to be listened for.
    """
    channel = found.survey.simplex.channel
    rows: dict[tuple[str, str, str], tuple[Cell, ...]] = {}
    for r in found.rounds:
        for one, other, on in _contacts(r, channel.name or f"{channel.frequency_mhz:.8g}"):
            for station, hears in ((one, other), (other, one)):
                rows.setdefault(
                    (station, hears, on), (None, None, station, hears, on, None, None, "test", r.number)
                )
    return Sheet(REPORT_COLUMNS, tuple(rows.values()))


def _contacts(r: ExerciseRound, simplex: str) -> list[tuple[str, str, str]]:
    """(member, whom it works first, on what) of everyone in the net of a round."""
    plan, found = r.plan, []
    for way in plan.ways:
        if way.call_sign not in plan.in_net:
            continue
        over = plan.hub if way.call_sign == plan.control else way.over
        other = over or (way.via[0] if way.via else plan.control)
        if other and other != way.call_sign:
            found.append((way.call_sign, other, over or simplex))
    return found
