"""Judge one answer: right, right within rounding, wrong, wrong unit or wrong sign, and the slips that explain it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from shuntref.exercises.answer_rule import Window
from shuntref.exercises.answers import answer_text
from shuntref.exercises.same_exercise import SameExercise
from shuntref.exercises.slip_answers import SlippedAnswer, slipped_answers
from shuntref.exercises.slips import Slip, slip
from shuntref.exercises.solver import solve
from shuntref.exercises.statement import Answer, Exercise, ExerciseError
from shuntref.quantities.text import QuantityError, WrittenValue, format_value, read_value
from shuntref.quantities.units import HORSEPOWER_CONVENTIONS

__all__ = ["WRONG", "WRONG_SIGN", "WRONG_UNIT", "Finding", "Key", "Status", "Verdict", "answer_key", "judge"]

Status = str
RIGHT, ROUNDED, WRONG, WRONG_UNIT, WRONG_SIGN = (
    "right",
    "right within rounding",
    "wrong",
    "wrong unit",
    "wrong sign",
)

EVERY_DIGIT = "to every digit"

#: figures that an answer must be given to, at least
FIGURES = 3
_EDGE = 1e-9  # binary fractions must not push a number over the edge of its own rounding
#: units in which a student may have meant a number; the first is the registry's
_OTHER_UNITS: dict[str, tuple[str, ...]] = {
    "speed": ("r/min", "r/s", "rad/s"),
    "speed_rpm": ("r/min", "r/s", "rad/s"),
    "W": ("W", "kW", "hp", "hp(746)", "hp(metric)"),
    "N m": ("N m", "lbf ft", "kgf m"),
    "1": ("1", "%"),
}


@dataclass(frozen=True, slots=True)
class Finding:
    """Slips that all make the number answered.

    ``value`` is the number they make; ``distance`` how far off the answer is, in units of the rounding allowed; ``fit``
    the same in words.
    """

    slips: tuple[Slip, ...]
    value: float
    distance: float
    fit: str


@dataclass(frozen=True, slots=True)
class Key:
    """What an answer is judged by: the right value, the windows that are right, and what each slip makes of it."""

    answer: Answer
    quantity: str
    right: float
    windows: tuple[Window, ...]
    slipped: tuple[SlippedAnswer, ...]
    horsepower: str
    shown: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The judgement of one answer.

    ``status`` is one of the five words; ``remark`` one sentence more where there is one; ``findings`` the likely slips of
    an answer that is not right to its digits, best first.
    """

    name: str
    text: str
    status: Status
    right: float
    shown: str
    remark: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def is_right(self) -> bool:
        """Whether the answer counts as right."""
        return self.status in (RIGHT, ROUNDED)


@lru_cache(maxsize=256)
def _keys(same: SameExercise) -> Mapping[str, Key]:
    exercise = same.exercise
    solution = solve(exercise)
    slipped = slipped_answers(exercise)
    keys = {}
    for name, solved in solution.answers.items():
        answer = solved.answer
        windows = [Window(solved.value, solved.value, "the value itself")]
        if solved.window is not None and not answer.disagrees:
            # the printed figure is right as printed, and as much either side of the value itself as the rule allows
            half = (solved.window.high - solved.window.low) / 2.0
            windows = [Window(solved.value - half, solved.value + half, solved.window.reason), solved.window]
        quantity = "torque_ratio" if answer.kind != "value" else answer.of.quantity
        keys[name] = Key(
            answer, quantity, solved.value, tuple(windows), slipped[name], exercise.horsepower,
            _shown(answer, solved.value, exercise.horsepower),
        )  # fmt: skip
    return keys


def _shown(answer: Answer, value: float, horsepower: str) -> str:
    if answer.printed is not None:
        return answer_text(answer, value, horsepower)
    quantity = "torque_ratio" if answer.kind != "value" else answer.of.quantity
    return format_value(quantity, value)


def answer_key(exercise: Exercise, name: str) -> Key:
    """Return what the answer called ``name`` is judged by.

    Parameters
    ----------
    exercise : Exercise
    name : str
        Of the answer.

    Returns
    -------
    Key

    Raises
    ------
    ExerciseError
        The exercise asks no such answer, or cannot be solved.

    Examples
    --------
    >>> from shuntref.exercises.library import reference_exercise
    >>> key = answer_key(reference_exercise("bird-22-shunt-motor-circuit"), "armature-current")
    >>> type(key).__name__
    'Key'
    """
    keys = _keys(SameExercise(exercise))
    if name not in keys:
        raise ExerciseError(f"the exercise asks no answer {name[:60]!r}; it asks: {', '.join(keys)}")
    return keys[name]


def judge(exercise: Exercise, name: str, text: str) -> Verdict:
    """Judge one answer.

    Parameters
    ----------
    exercise
        A checked exercise.
    name
        Name of the answer in the exercise.
    text
        The answer as the student wrote it, with its unit.

    Returns
    -------
    Verdict
        "right" when the number agrees with the value to every digit written (or to the printed digits, or the tolerance
        that the exercise sets); "right within rounding" when it agrees to three figures; "wrong sign"; "wrong unit" when
        the dimension is another, the unit is missing, or the number is right in another unit; else "wrong".

    Raises
    ------
    ExerciseError
        The exercise asks no such answer, or cannot be solved, or the text holds no number.

    Examples
    --------
    >>> from shuntref.exercises.library import reference_exercise
    >>> exercise = reference_exercise("bird-22-shunt-motor-circuit")
    >>> judge(exercise, "armature-current", "28.4 A").status
    'right'
    >>> wrong = judge(exercise, "armature-current", "30 A")
    >>> wrong.status, wrong.findings[0].slips[0].title
    ('wrong', 'line current taken for armature current')
    """
    return judge_by(answer_key(exercise, name), text)


def judge_by(key: Key, text: str) -> Verdict:
    """Judge one answer by a key; see :func:`judge`."""
    try:
        written = read_value(key.quantity, text, horsepower=key.horsepower)
    except QuantityError as error:
        return _unreadable(key, text, str(error))
    status, remark = _status(key, written)
    erratum = _erratum(key, written)
    if erratum and status != RIGHT:
        status, remark = WRONG, erratum
    findings = () if status == RIGHT else _findings(key, written)
    if status == ROUNDED:  # close enough to be right; but a slip that fits every digit deserves to be mentioned
        right_too = _agrees(written.value, key.right, written.half_unit)  # then the digits given tell nothing apart
        findings = () if right_too else tuple(finding for finding in findings if finding.fit == EVERY_DIGIT)
    return Verdict(key.answer.name, text, status, key.right, key.shown, remark, findings)


def _unreadable(key: Key, text: str, why: str) -> Verdict:
    """A text without a unit, or with one of another dimension: the unit is wrong; a text without a number is refused."""
    try:
        bare = read_value("torque_ratio", text.split()[0] if text.split() else "")
    except QuantityError:
        said = why.removeprefix(f"{key.quantity} = ")  # the student knows the answer by its name in the exercise
        raise ExerciseError(f"answer {key.answer.name}: {said}") from None
    unit = text.strip()[len(bare.number_text) :].strip()
    if re.match(r"\d{3}(?!\d)", unit):  # 1 712 r/min: neither a right number nor a wrong unit, so it is not judged
        raise ExerciseError(f"answer {key.answer.name}: {text.strip()[:60]!r}: write the number without blanks inside")
    remark = f"{unit!r} is not a unit of what is asked" if unit else "the unit is missing"
    right_number = _right_in_some_unit(key, float(bare.number_text))
    accepted = _units_for(key)[0]
    if right_number:
        remark += f"; the number is right in {right_number}"
    elif accepted != "1":
        remark += f"; {accepted} would be accepted"
    return Verdict(key.answer.name, text, WRONG_UNIT, key.right, key.shown, remark)


def _status(key: Key, written: WrittenValue) -> tuple[Status, str]:
    value = written.value
    if any(window.holds(value) for window in key.windows):
        return RIGHT, ""
    coarse = _figures(written) < FIGURES and not _short_number(key.right, written)
    if not coarse and _agrees(value, key.right, written.half_unit):
        return RIGHT, ""
    allowed = _rounding(written)
    if abs(value - key.right) <= allowed:
        return ROUNDED, f"it agrees to {FIGURES} figures"
    if key.right and (abs(value + key.right) <= allowed or any(window.holds(-value) for window in key.windows)):
        return WRONG_SIGN, "the number is right, its sign is not"
    unit = _right_in_some_unit(key, float(written.number_text), but=written.unit_text)
    if unit:
        return WRONG_UNIT, f"the number is right in {unit}"
    if coarse and _agrees(value, key.right, written.half_unit):
        return WRONG, f"right as far as it goes, but rounded to fewer than {FIGURES} figures"
    return WRONG, ""


def _agrees(value: float, right: float, half_unit: float) -> bool:
    return abs(value - right) <= half_unit * (1.0 + _EDGE)


def _figures(written: WrittenValue) -> int:
    """Significant figures written; zeros at the end of a whole number do not count, since they may be mere places."""
    mantissa = written.number_text.lower().partition("e")[0].lstrip("+-")
    digits = mantissa.replace(".", "").lstrip("0")
    return len(digits if "." in mantissa else digits.rstrip("0"))


def _short_number(right: float, written: WrittenValue) -> bool:
    """Whether the value itself has fewer figures than are asked: 2 sections, 230 V."""
    if right == 0.0:
        return True
    return abs(written.value - right) <= 1e-9 * abs(right)


def _rounding(written: WrittenValue) -> float:
    """What rounding to three figures may take away from a number, in the unit it was written in, as a registry value."""
    number = abs(float(written.number_text))
    if number == 0.0:
        return 0.0
    per_unit = abs(written.value / float(written.number_text)) if float(written.number_text) else 0.0
    place = math.floor(math.log10(number) + _EDGE) - (FIGURES - 1)
    return 0.5 * 10.0**place * per_unit * (1.0 + 1e-6)


def _right_in_some_unit(key: Key, number: float, but: str = "") -> str:
    """The unit in which a number would be right, if there is one that people confuse with the one asked."""
    for unit in _units_for(key):
        if unit == but:
            continue
        try:
            meant = read_value(
                key.quantity, f"{number!r} {unit}" if unit != "1" else repr(number), horsepower=key.horsepower
            )
        except QuantityError:  # a number that is beyond all numbers in this unit is not right in it
            continue
        if abs(meant.value - key.right) <= _rounding(meant) and meant.value:
            return "per unit" if unit == "1" else unit
    return ""


def _units_for(key: Key) -> tuple[str, ...]:
    from shuntref.quantities.registry import quantity

    unit = quantity(key.quantity).unit
    if key.quantity in _OTHER_UNITS:
        return _OTHER_UNITS[key.quantity]
    if unit in _OTHER_UNITS:
        return _OTHER_UNITS[unit]
    if unit in ("V", "A", "ohm", "Wb"):
        return (unit, f"m{unit}", f"k{unit}")
    return (unit,)


def _findings(key: Key, written: WrittenValue) -> tuple[Finding, ...]:
    """The slips that make the number answered, best first; those that make the same number stand together."""
    allowed = max(_rounding(written), written.half_unit if _figures(written) >= FIGURES else 0.0)
    close: list[tuple[float, int, SlippedAnswer]] = []
    for place, row in enumerate((*key.slipped, *_other_horsepower(key, written))):
        off = abs(written.value - row.value)
        if off <= allowed:
            close.append((off / allowed if allowed else 0.0, place, row))
    if not close:
        return ()
    # what the digits written cannot tell apart is ordered by how common the slip is, not by chance
    own = written.half_unit / allowed if allowed else 0.0
    close.sort(key=lambda item: (0.0 if item[0] <= own * (1.0 + _EDGE) else item[0], item[1]))
    findings: list[Finding] = []
    for distance, _, row in close:
        for position, finding in enumerate(findings):
            if math.isclose(finding.value, row.value, rel_tol=1e-9):
                if row.slip not in finding.slips:
                    findings[position] = Finding(
                        (*finding.slips, row.slip), finding.value, finding.distance, finding.fit
                    )
                break
        else:
            fit = EVERY_DIGIT if distance <= own * (1.0 + _EDGE) else f"to {FIGURES} figures"
            findings.append(Finding((row.slip,), row.value, distance, fit))
    return tuple(findings)


def _other_horsepower(key: Key, written: WrittenValue) -> Iterator[SlippedAnswer]:
    """What the answer would be in horsepower of another convention, where it was given in horsepower."""
    if "hp" not in written.unit_text.lower().split():
        return
    for convention in HORSEPOWER_CONVENTIONS:
        if convention != key.horsepower:
            watts = [read_value("output_power", "1 hp", horsepower=name).value for name in (key.horsepower, convention)]
            yield SlippedAnswer(slip("horsepower-convention"), key.right * watts[0] / watts[1])


def _erratum(key: Key, written: WrittenValue) -> str:
    """Whether the number is a printed one that is known to be wrong."""
    printed = key.answer.printed
    if printed is None or not key.answer.disagrees or abs(written.value - printed.value) > printed.half_unit:
        return ""
    return f"this is the printed figure, which does not follow from the data: {key.answer.rule.reason}"
