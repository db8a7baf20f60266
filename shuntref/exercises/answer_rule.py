"""How close a number must come to a printed answer: the rule belongs to the answer, not to the program."""

from __future__ import annotations

from dataclasses import dataclass

from shuntref.quantities.text import WrittenValue

__all__ = ["AnswerRule", "Window"]

# 1.95 ohm printed as 2.0 lies on the edge of its window; binary fractions must not push it over
_EDGE = 1e-6


@dataclass(frozen=True, slots=True)
class Window:
    """The values that agree with a printed answer, from ``low`` to ``high`` in the registry unit, and the reason."""

    low: float
    high: float
    reason: str

    def holds(self, value: float) -> bool:
        """Whether ``value`` lies inside, edges included.

        Examples
        --------
        >>> Window(1.0, 2.0, "example").holds(2.0)
        True
        """
        slack = _EDGE * (self.high - self.low)
        return self.low - slack <= value <= self.high + slack


@dataclass(frozen=True, slots=True)
class AnswerRule:
    """The rule of one answer.

    ``rounding`` is "nearest", "truncated" or "up"; ``step`` a rounding step, ``tolerance`` an absolute and
    ``relative_tolerance`` a relative one, each in the registry unit and None when it is not set; ``reason`` says why a
    tolerance was set.
    """

    rounding: str = "nearest"
    step: float | None = None
    tolerance: float | None = None
    relative_tolerance: float | None = None
    reason: str = ""

    def window(self, printed: WrittenValue) -> Window:
        """Return the values that agree with ``printed``.

        Examples
        --------
        >>> from shuntref.quantities.text import read_value
        >>> window = AnswerRule().window(read_value("torque_ratio", "1.53"))
        >>> round(window.low, 4), round(window.high, 4), window.reason
        (1.525, 1.535, 'half a unit of the last printed digit')
        >>> AnswerRule(rounding="truncated").window(read_value("torque_ratio", "1.53")).holds(1.5399)
        True
        """
        value = printed.value
        if self.tolerance is not None:
            return Window(value - self.tolerance, value + self.tolerance, self.reason)
        if self.relative_tolerance is not None:
            spread = abs(value) * self.relative_tolerance
            return Window(value - spread, value + spread, self.reason)
        half = printed.half_unit if self.step is None else self.step / 2
        what = "last printed digit" if self.step is None else "stated rounding step"
        if self.rounding == "nearest":
            return Window(value - half, value + half, f"half a unit of the {what}")
        outward = 2 * half if value >= 0 else -2 * half  # truncation moves towards zero
        ends = (value, value + outward) if self.rounding == "truncated" else (value - outward, value)
        word = "cut off" if self.rounding == "truncated" else "rounded up"
        return Window(min(ends), max(ends), f"one unit of the {what}, {word}")
