"""Grading a starter: into which sections its resistance is divided, by either convention of the textbooks.

The two conventions give different resistors for the same motor. One keeps both current limits exactly and lets the last
section come out short; the other fixes the number of sections and adjusts the ratio of the limits. Both are here, named
for what they keep, and every step reports the peak that it really causes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from shuntref.model.starting import StarterStep, direct_starting_current, starter_steps
from shuntref.model.validation import scalar

__all__ = ["StarterGrading", "grade_starter_by_limits", "grade_starter_by_sections"]

# A number of sections this close to a whole one is that whole one: the rest is rounding, not another section.
_WHOLE = 1e-9
_MOST_SECTIONS = 200


@dataclass(frozen=True, slots=True)
class StarterGrading:
    """A graded starter: its sections in the order in which they are cut out, and every step's currents.

    ``sections_exact`` is the number of sections before rounding; ``current_ratio`` the ratio of the limits that the
    sections follow; ``highest_peak`` the largest armature current of the whole start.
    """

    convention: str
    supply_voltage: float
    armature_resistance: float
    brush_drop: float
    upper_current: float
    lower_current: float
    current_ratio: float
    sections_exact: float
    sections: tuple[float, ...]
    steps: tuple[StarterStep, ...]

    @property
    def starting_resistance(self) -> float:
        """All sections in series [ohm]."""
        return math.fsum(self.sections)

    @property
    def studs(self) -> int:
        """Contacts of the starter: one more than its sections."""
        return len(self.sections) + 1

    @property
    def highest_peak(self) -> float:
        """Largest armature current of the start [A]."""
        return max(step.peak_current for step in self.steps)

    def line_peaks(self, field_current: float) -> tuple[float, ...]:
        """What the fuse sees at every step: armature peak plus the field current [A].

        Parameters
        ----------
        field_current : float
            [A]

        Returns
        -------
        tuple of float
            [A]

        Examples
        --------
        >>> grading = grade_starter_by_sections(220.0, 0.5, sections=6, upper_current=40.0)
        >>> [round(peak, 6) for peak in grading.line_peaks(1.5)][:2]
        [41.5, 41.5]
        """
        return tuple(step.peak_current + field_current for step in self.steps)


def _grading(
    convention: str,
    circuit: Sequence[float],
    limits: tuple[float, float],
    exact: float,
    supply_voltage: float,
    brush_drop: float,
) -> StarterGrading:
    """Put a grading together from the circuit resistances R_1 > R_2 > ... > R_a."""
    sections = tuple(high - low for high, low in pairwise(circuit))
    upper, lower = limits
    steps = starter_steps(supply_voltage, circuit[-1], sections, lower, brush_drop=brush_drop)
    return StarterGrading(
        convention, supply_voltage, circuit[-1], brush_drop, upper, lower, upper / lower, exact, sections, steps
    )


def grade_starter_by_limits(
    supply_voltage: float,
    armature_resistance: float,
    upper_current: float,
    lower_current: float,
    *,
    brush_drop: float = 0.0,
    rounding: str = "up",
) -> StarterGrading:
    """Grade a starter so that both current limits are kept exactly and the last section takes what is left.

    Parameters
    ----------
    supply_voltage, armature_resistance, upper_current, lower_current, brush_drop : float
        [V], [ohm], [A], [A], [V]. The currents are armature currents: take the field current off a line limit first.
    rounding : {"up", "nearest"}
        What to do with a number of sections that is not whole. "up" keeps every peak within the upper limit and makes
        the last section short. "nearest" saves a section when the exact number is barely above a whole one; the last
        peak then lies a little above the limit, and says so.

    Returns
    -------
    StarterGrading
        No section at all when the motor may be switched straight on.

    Raises
    ------
    ValueError
        For impossible arguments, or an upper limit that is not above the lower one.

    Notes
    -----
    R_1 = (U - U_b)/I_1, R_2 = R_1 I_2/I_1, and so on down to R_a. The number of sections is
    ln(R_1/R_a)/ln(I_1/I_2), rounded as asked.

    References
    ----------
    S. J. Chapman, Electric Machinery Fundamentals, 4th ed. 2005, Example 9-7 (from memory): sections 0.1786, 0.0893 and
    0.0393 ohm.

    Examples
    --------
    >>> grading = grade_starter_by_limits(250.0, 0.05, 700.0, 350.0)
    >>> [round(section, 4) for section in grading.sections], round(grading.sections_exact, 2)
    ([0.1786, 0.0893, 0.0393], 2.84)
    >>> [round(step.peak_current) for step in grading.steps]
    [700, 700, 700, 625]
    """
    if rounding not in ("up", "nearest"):
        raise ValueError(f"rounding is {rounding!r}; write 'up' or 'nearest'")
    upper, lower = (
        scalar("upper_current", upper_current, "positive"),
        scalar("lower_current", lower_current, "positive"),
    )
    if upper <= lower:
        raise ValueError(f"upper_current is {upper:g} A; it must be above lower_current, {lower:g} A")
    own = scalar("armature_resistance", armature_resistance, "positive")
    direct = direct_starting_current(supply_voltage, own, brush_drop=brush_drop)
    exact = max(math.log(direct / upper) / math.log(upper / lower), 0.0) if direct > upper else 0.0
    count = round(exact) if rounding == "nearest" or abs(exact - round(exact)) < _WHOLE else math.ceil(exact)
    if direct > upper:
        count = max(count, 1)
    if count > _MOST_SECTIONS:
        raise ValueError(
            f"upper_current {upper:g} A and lower_current {lower:g} A lie so close that {count} sections are needed; "
            f"spread the limits (at most {_MOST_SECTIONS} sections)"
        )
    ratio = upper / lower
    circuit = [own * direct / upper / ratio**stage for stage in range(count)] + [own]
    convention = f"limits kept, sections rounded {rounding}"
    return _grading(convention, circuit, (upper, lower), exact, supply_voltage, brush_drop)


def grade_starter_by_sections(
    supply_voltage: float,
    armature_resistance: float,
    *,
    sections: int | None = None,
    studs: int | None = None,
    upper_current: float | None = None,
    lower_current: float | None = None,
    brush_drop: float = 0.0,
) -> StarterGrading:
    """Grade a starter with a fixed number of sections: one limit is kept, the other follows.

    Parameters
    ----------
    supply_voltage, armature_resistance, brush_drop : float
        [V], [ohm], [V].
    sections, studs : int
        Give one of them; a starter of N sections has N + 1 studs.
    upper_current, lower_current : float
        [A], armature currents; give one of them.

    Returns
    -------
    StarterGrading
        With ``upper_current`` and ``lower_current`` as they come out.

    Raises
    ------
    ValueError
        When both or neither of a pair is given, or when the limit needs no starter.

    Notes
    -----
    Circuit resistances in geometric progression from R_1 to R_a over N sections. With the upper limit given,
    R_1 = (U - U_b)/I_1 and the ratio is K = (R_1/R_a)^(1/N). With the lower limit given, R_1 itself is K times
    smaller than (U - U_b)/I_2, so that (U - U_b)/(I_2 R_a) = K^(N+1): the exponent is one more.

    References
    ----------
    B. L. Theraja and A. K. Theraja, A Textbook of Electrical Technology, vol. II, ch. 30, starter section (from
    memory): six sections for 40 A; seven studs with the lower limit given.

    Examples
    --------
    >>> grading = grade_starter_by_sections(220.0, 0.5, sections=6, upper_current=40.0)
    >>> [round(section, 3) for section in grading.sections]
    [1.812, 1.215, 0.815, 0.546, 0.366, 0.246]
    >>> grading.studs
    7
    """
    if (sections is None) == (studs is None):
        raise ValueError("give either sections or studs (one more than sections), and not both")
    if (upper_current is None) == (lower_current is None):
        raise ValueError("give either upper_current or lower_current, and not both")
    count = sections if sections is not None else int(studs or 0) - 1
    if count != int(count) or not 1 <= count <= _MOST_SECTIONS:
        raise ValueError(f"sections is {count}; a whole number from 1 to {_MOST_SECTIONS} is needed (studs: one more)")
    own = scalar("armature_resistance", armature_resistance, "positive")
    direct = direct_starting_current(supply_voltage, own, brush_drop=brush_drop)
    given = scalar("upper_current", upper_current, "positive") if upper_current is not None else 0.0
    if lower_current is not None:
        given = scalar("lower_current", lower_current, "positive")
    if direct <= given:
        raise ValueError(
            f"the motor draws {direct:g} A when switched straight on, within the limit of {given:g} A: "
            "no starter is needed"
        )
    if upper_current is not None:
        ratio = (direct / given) ** (1.0 / count)
        upper, lower, convention = given, given / ratio, "sections fixed, upper limit kept"
    else:
        ratio = (direct / given) ** (1.0 / (count + 1))
        upper, lower, convention = given * ratio, given, "sections fixed, lower limit kept"
    circuit = [own * ratio ** (count - stage) for stage in range(count)] + [own]
    return _grading(convention, circuit, (upper, lower), float(count), supply_voltage, brush_drop)
