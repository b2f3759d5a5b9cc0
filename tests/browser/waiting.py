"""Waiting for what a page shows, without the page's leave to evaluate text (its policy forbids that)."""

from __future__ import annotations

from typing import Any

ONCE_MS, MOST_TURNS = 50, 200


def wait_until(page: Any, question: str, *, given: Any = None) -> Any:
    """The first answer of a JavaScript expression or function that holds, within ten seconds."""
    for _ in range(MOST_TURNS):
        answer = page.evaluate(question, given)
        if answer:
            return answer
        page.wait_for_timeout(ONCE_MS)
    raise AssertionError(f"never held: {question}")


def wait_for_rest(page: Any) -> None:
    """Until the map stands still and no box opens or closes: five looks in a row that see the same."""
    look = """() => { const pane = document.querySelector('.leaflet-map-pane').getBoundingClientRect();
        return [pane.x, pane.y, document.querySelectorAll('.leaflet-popup').length]; }"""
    seen: list[Any] = []
    for _ in range(MOST_TURNS):
        seen.append(page.evaluate(look))
        if seen[-5:] == [seen[-1]] * 5:
            return
        page.wait_for_timeout(ONCE_MS)
    raise AssertionError(f"never at rest: {seen[-5:]}")
