"""The optimiser's time for one whole plan, shared out over its parts."""

from __future__ import annotations


class TimeBudget:
    """Seconds of solver time for one plan. What a part leaves over goes to the parts after it.

    No clock is read here: who spends time says how much.
    """

    def __init__(self, total_s: float) -> None:
        self.total_s = total_s
        self.spent_s = 0.0

    @property
    def left_s(self) -> float:
        """Time not yet spent, never negative."""
        return max(self.total_s - self.spent_s, 0.0)

    def part_s(self, share: float) -> float:
        """Limit for the next part: that share of what is left, 0 to 1."""
        return share * self.left_s

    def spend(self, used_s: float) -> None:
        """Take off what a part used, which may be more than its limit."""
        self.spent_s += used_s
