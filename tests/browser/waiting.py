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
