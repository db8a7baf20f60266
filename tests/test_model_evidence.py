"""The evidence of the numeric model: all of it passes, and each check fails when what it looks at is disturbed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import mpmath
import numpy as np
import pytest

from shuntref.evidence import Check
from shuntref.model import evidence
from shuntref.model.flux import ProportionalFlux
from shuntref.model.load import ConstantTorque
from shuntref.model.machine import Machine
from shuntref.model.machine_file import machine_to_text
from shuntref.model.reaction import ProportionalReaction
from shuntref.model.speed_formulas import speed_from_torque
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.steady import steady_state

LABORATORY = evidence._reference_machine("laboratory")


def altered(**changes: Callable[[Any], Any]) -> Callable[..., Any]:
    """A steady_state whose results have some quantities changed."""
    true = steady_state

    def disturbed(*args: Any, **kwargs: Any) -> Any:
        state = true(*args, **kwargs)
        values = {name: getattr(state, name) for name in state.quantities}
        return SimpleNamespace(**values | {name: change(values[name]) for name, change in changes.items()})

    return disturbed


def failed(checks: Iterator[Check]) -> list[str]:
    return [check.statement for check in checks if not check.passed]


def test_all_evidence_passes_and_none_is_missing() -> None:
    found = list(evidence.checks())
    assert failed(iter(found)) == []
    statements = [check.statement for check in found]
    assert len(set(statements)) == len(statements)
    # three machines, each with its file, five loads on the laws and four on the other finder; six checks more
    assert len(found) == 3 * (1 + 5 + 4) + 6
    assert {check.group for check in found} == {"model"}
    for name in ("laboratory", "unsaturated", "measured"):
        assert sum(statement.startswith(f"{name} with") for statement in statements) == 9
        assert f"the machine file {name} comes back exactly" in statements
    for check in found:
        if "finds the same speed" in check.statement:
            assert "no load" not in check.statement


def test_a_machine_file_that_loses_something_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    true = machine_to_text
    monkeypatch.setattr(evidence, "machine_to_text", lambda machine: true(replace(machine, note="another")))
    for name in ("_laws", "_other_finder", "_slogan"):
        monkeypatch.setattr(evidence, name, lambda *_: iter(()))
    assert failed(evidence.checks()) == [
        f"the machine file {name} comes back exactly" for name in ("laboratory", "unsaturated", "measured")
    ]


# --- the laws at a point

#: a point worked by hand: 100 ohm and 20 ohm of field at 120 V, 1 ohm and 0.5 ohm of armature, 2 V at the brushes, 1.5 ohm
#: of line; 10 A in the armature
HAND: dict[str, float] = {
    "source_voltage": 136.5,
    "supply_voltage": 120.0,
    "field_voltage": 120.0,
    "field_resistance": 100.0,
    "added_field_resistance": 20.0,
    "field_current": 1.0,
    "armature_current": 10.0,
    "armature_resistance": 1.0,
    "added_armature_resistance": 0.5,
    "brush_drop": 2.0,
    "back_emf": 103.0,
    "k_phi": 2.0,
    "speed": 51.5,
    "electromagnetic_torque": 20.0,
    "load_torque": 18.0,
    "loss_torque": 2.0,
    "line_current": 11.0,
    "line_resistance": 1.5,
    "input_power": 1501.5,
    "output_power": 927.0,
    "field_copper_loss": 100.0,
    "added_field_loss": 20.0,
    "armature_copper_loss": 100.0,
    "added_armature_loss": 50.0,
    "brush_loss": 20.0,
    "line_loss": 181.5,
    "rotational_loss": 103.0,
}

#: a quantity made one per cent larger: the largest of the laws that it breaks, as (what is over, the largest term)
ONE_PER_CENT: dict[str, tuple[float, float]] = {
    "source_voltage": (1.365, 137.865),
    "supply_voltage": (1.2, 121.2),
    "field_voltage": (1.2, 121.2),
    "field_resistance": (1.0, 120.0),
    "added_field_resistance": (0.2, 120.0),
    "field_current": (1.2, 120.0),
    "armature_current": (0.2, 20.2),
    "armature_resistance": (0.1, 120.0),
    "added_armature_resistance": (0.05, 120.0),
    "brush_drop": (0.02, 120.0),
    "back_emf": (1.03, 104.03),
    "k_phi": (1.03, 104.03),
    "speed": (1.03, 104.03),
    "electromagnetic_torque": (0.2, 20.2),
    "load_torque": (0.18, 20.0),
    "loss_torque": (0.02, 20.0),
    "line_current": (0.11, 11.11),
    "line_resistance": (0.165, 136.5),
    "input_power": (15.015, 1516.515),
    "output_power": (9.27, 1501.5),
    "field_copper_loss": (1.0, 1501.5),
    "added_field_loss": (0.2, 1501.5),
    "armature_copper_loss": (1.0, 1501.5),
    "added_armature_loss": (0.5, 1501.5),
    "brush_loss": (0.2, 1501.5),
    "line_loss": (1.815, 1501.5),
    "rotational_loss": (1.03, 1501.5),
}


def residual(**values: float) -> float:
    return evidence._residuals(SimpleNamespace(**values))  # type: ignore[arg-type]


def test_the_laws_hold_at_a_point_worked_by_hand() -> None:
    assert residual(**HAND) < 1e-15


@pytest.mark.parametrize("name", HAND)
def test_the_law_that_a_quantity_breaks_is_measured_by_its_largest_term(name: str) -> None:
    over, largest = ONE_PER_CENT[name]
    assert residual(**HAND | {name: 1.01 * HAND[name]}) == pytest.approx(over / largest, rel=1e-9)


def test_the_brush_drop_turns_round_with_the_current() -> None:
    # driven by its load with 10 A, the drop adds to the EMF: E = 120 + 10*1.5 + 2 = 137 V, 20 N m, 2 N m more at the shaft
    driven = HAND | {
        "armature_current": -10.0, "back_emf": 137.0, "speed": 68.5, "electromagnetic_torque": -20.0,
        "load_torque": -22.0, "line_current": -9.0, "source_voltage": 106.5,
        "input_power": -958.5, "output_power": -1507.0, "line_loss": 121.5, "rotational_loss": 137.0,
    }  # fmt: skip
    assert residual(**driven) < 1e-15
    assert residual(**driven | {"brush_drop": -2.0}) == pytest.approx(4.0 / 137.0)


def test_without_a_current_the_brushes_drop_nothing_and_a_law_of_nothings_holds() -> None:
    idle = HAND | {
        "armature_current": 0.0, "back_emf": 120.0, "speed": 60.0, "electromagnetic_torque": 0.0, "load_torque": 0.0,
        "loss_torque": 0.0, "line_current": 1.0, "source_voltage": 121.5, "input_power": 121.5, "output_power": 0.0,
        "armature_copper_loss": 0.0, "added_armature_loss": 0.0, "brush_loss": 0.0, "line_loss": 1.5,
        "rotational_loss": 0.0,
    }  # fmt: skip
    assert residual(**idle) < 1e-15
    assert residual(**idle | {"load_torque": 1e-12}) == pytest.approx(1e-3)  # of 1e-9 N m, the least that is told apart


#: what has no part in a law at these machines: no line resistance, and so no voltage or loss in it
ABSENT = {"line_resistance", "line_loss"}


@pytest.mark.parametrize("name", sorted(set(HAND) - ABSENT))
def test_a_quantity_that_is_hardly_off_fails_the_laws(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(evidence, "steady_state", altered(**{name: lambda value: value * (1.0 + 1e-11)}))
    wrong = failed(evidence._laws("laboratory", LABORATORY))
    assert "laboratory with a constant torque: every law and the power balance hold" in wrong


def test_the_worst_of_the_rheostats_settings_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    true = steady_state
    seen = []

    def only(field: float, armature: float) -> Callable[..., Any]:
        def state(machine: Machine, **given: Any) -> Any:
            seen.append((given["supply_voltage"], given["added_field_resistance"], given["added_armature_resistance"]))
            point = true(machine, **given)
            wrong = seen[-1][1:] == pytest.approx((field, armature))
            values = {name: getattr(point, name) for name in point.quantities}
            return SimpleNamespace(**values | {"speed": point.speed * (1.0 + 1e-9 * wrong)})

        return state

    for field in (0.0, 12.0):
        for armature in (0.0, 1.5 * 2.4):  # the laboratory machine's armature has 2.4 ohm
            monkeypatch.setattr(evidence, "steady_state", only(field, armature))
            found = list(evidence._laws("laboratory", LABORATORY))
            assert [check.passed for check in found] == [False] * 5
            # the EMF law is off by 1e-9 of itself, the power balance by the shaft's share of that
            assert all(check.detail == "worst law off by 1.0e-09 of its largest term" for check in found)
    assert {volts for volts, _, _ in seen} == {120.0}


def test_the_loads_are_those_of_the_nameplate() -> None:
    loads = evidence._loads(LABORATORY)  # 370 W at 1500 r/min; 150 rad/s is near to that
    torque = 370.0 / 150.0
    assert [loads[name].torque(75.0) for name in loads] == pytest.approx(
        [0.0, torque, torque / 4.0, 370.0 / 75.0, -torque / 2.0]
    )
    assert list(loads) == ["no load", "a constant torque", "a fan", "a constant power", "an overhauling load"]
    assert evidence._loads(replace(LABORATORY, nameplate={}))["a constant power"].torque(100.0) == 5.0  # 500 W


# --- the other finder


def plain_machine() -> Machine:
    """100 ohm of field at 120 V: 1.2 A; 10 A take 0.1 A of it, and leave 1.1 A, which make 2.2 V s/rad."""
    return Machine(
        armature_resistance=0.8, field_resistance=100.0, flux=ProportionalFlux(2.0), brush_drop=2.0,
        armature_reaction=ProportionalReaction(0.01), loss_torque=ConstantTorque(1.0),
        nameplate={"rated_supply_voltage": 120.0, "rated_output_power": 3000.0},
    )  # fmt: skip


def test_the_unreduced_laws_vanish_at_a_point_worked_by_hand_and_tell_what_each_unknown_does() -> None:
    # E = 120 - 10*0.8 - 2 = 110 V, so 50 rad/s; the torque is 22 N m, 21 at the shaft and 1 lost
    laws = evidence._unreduced(plain_machine(), ConstantTorque(21.0), 120.0, 1.0)
    at = [1.2, 2.2, 110.0, 50.0, 10.0]
    assert laws(at) == pytest.approx([0.0] * 5, abs=1e-12)
    for place, step, expected in (
        (0, 0.1, [-10.0, -0.2, 0.0, 0.0, 0.0]),
        (1, 0.1, [0.0, 0.1, -5.0, 0.0, 1.0]),
        (2, 1.0, [0.0, 0.0, 1.0, -1.0, 0.0]),
        (3, 1.0, [0.0, 0.0, -2.2, 0.0, 0.0]),
        (4, 5.0, [0.0, 0.1, 0.0, -4.0, 11.0]),  # 0.05 A less field, by reaction
    ):
        moved = [value + step * (i == place) for i, value in enumerate(at)]
        assert laws(moved) == pytest.approx(expected, abs=1e-12)


def test_the_unreduced_laws_turn_the_brush_drop_round() -> None:
    assert evidence._unreduced(plain_machine(), ConstantTorque(21.0), 120.0, -1.0)([1.2, 2.2, 110.0, 50.0, 10.0])[
        3
    ] == pytest.approx(4.0)  # fmt: skip


@pytest.mark.parametrize(
    ("off", "verdict"), [(0.0, True), (0.9e-9, True), (-0.9e-9, True), (1.1e-9, False), (-1.1e-9, False)]
)
def test_a_speed_that_scipy_does_not_find_fails(off: float, verdict: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(evidence, "steady_state", altered(speed=lambda value: value * (1.0 + off)))
    found = list(evidence._other_finder({"laboratory": LABORATORY}))
    assert [check.passed for check in found] == [verdict] * 4
    labels = ("a constant torque", "a fan", "a constant power", "an overhauling load")
    assert [check.statement for check in found] == [
        f"laboratory with {label}: scipy on the unreduced laws finds the same speed" for label in labels
    ]


def test_a_root_of_scipys_that_is_none_fails_even_at_the_right_speed(monkeypatch: pytest.MonkeyPatch) -> None:
    from scipy import optimize

    true = optimize.root

    def found(off: float) -> Callable[..., Any]:
        def root(laws: Any, start: Any, **options: Any) -> Any:
            answer = true(laws, start, **options)
            answer.x[2] += off  # an EMF that is off by some of the 1e-7 V that are allowed
            return answer

        return root

    for off, verdict in ((0.9e-7, True), (-0.9e-7, True), (1.1e-7, False), (-1.1e-7, False)):
        monkeypatch.setattr(optimize, "root", found(off))
        assert [check.passed for check in evidence._other_finder({"laboratory": LABORATORY})] == [verdict] * 4


def test_the_other_finder_shows_both_speeds_and_starts_without_knowing_the_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from scipy import optimize

    true = optimize.root
    starts = []

    def root(laws: Any, start: Any, **options: Any) -> Any:
        starts.append(list(start))
        return true(laws, start, **options)

    monkeypatch.setattr(optimize, "root", root)
    monkeypatch.setattr(evidence, "steady_state", altered(speed=lambda value: 2.0 * value))
    found = list(evidence._other_finder({"plain": replace(plain_machine(), brush_drop=0.0)}))
    # 1.2 A of field make 2.4 V s/rad, and with them no load runs at 50 rad/s; an ampere, of the right sign
    assert starts == [pytest.approx([1.2, 2.4, 120.0, 50.0, sign]) for sign in (1.0, 1.0, 1.0, -1.0)]
    # 20 N m at the shaft and 1 N m lost: (2.4 - 0.02 I) I = 21, so I = 60 - sqrt(2550); half of -20 N m: -9
    expected = []
    for asked in (21.0, -9.0):
        current = 60.0 - math.sqrt(3600.0 - 50.0 * asked)
        speed = (120.0 - 0.8 * current) / (2.4 - 0.02 * current)
        expected.append(f"{speed:.9g} and {2.0 * speed:.9g} rad/s")
    assert [found[0].detail, found[3].detail] == expected


# --- rounding


def test_the_speed_equation_may_be_off_by_eight_units_in_the_last_place_per_condition_number(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    true = speed_from_torque

    def off(share: float, only: int | None = None) -> Callable[..., Any]:
        def speed(volts: Any, k_phi: Any, torque: Any, resistance: Any) -> Any:
            exact = true(volts, k_phi, torque, resistance)  # to within one or two units, beside the many planted
            # the condition number is the sum of the sensitivities to each input, of U/k - T R/k^2 as it stands
            first, second = volts / k_phi, torque * resistance / k_phi**2
            condition = (first + 2.0 * second + abs(-first + 2.0 * second)) / abs(first - second)
            planted = share * condition * np.spacing(np.abs(exact))
            if only is not None:
                planted[np.arange(planted.size) != only % planted.size] = 0.0
            return exact + planted

        return speed

    for share, verdict in ((7.0, True), (9.2, False), (-7.0, True), (-9.2, False)):
        monkeypatch.setattr(evidence, "speed_from_torque", off(share))
        check = evidence._rounding()
        assert check.passed == verdict
        assert abs(float(check.detail.split()[1]) - abs(share)) <= 1.0
        assert check.detail.endswith("ulp per condition number at 5000 points")
    for only in (0, 2345, -1):
        monkeypatch.setattr(evidence, "speed_from_torque", off(9.2, only))
        assert not evidence._rounding().passed


def test_a_speed_rounded_correctly_is_off_by_a_quarter_of_a_unit_per_condition_number(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def rounded(*columns: Any) -> Any:
        with mpmath.workdps(40):
            return np.array([float((u - t * r / k) / k) for u, k, t, r in zip(*map(mpmath_all, columns), strict=True)])

    def mpmath_all(column: Any) -> list[Any]:
        return [mpmath.mpf(float(value)) for value in column]

    monkeypatch.setattr(evidence, "speed_from_torque", rounded)
    # half a unit in the last place, over a condition number that is never below 2 and comes near to it
    assert evidence._rounding().detail == "worst 0.25 ulp per condition number at 5000 points"


def test_the_points_of_the_rounding_cover_machines_of_every_size(monkeypatch: pytest.MonkeyPatch) -> None:
    true = speed_from_torque
    seen: list[Any] = []

    def speed(*columns: Any) -> Any:
        seen.extend(columns)
        return true(*columns)

    monkeypatch.setattr(evidence, "speed_from_torque", speed)
    assert evidence._rounding().passed
    for column, low, high in zip(seen, (10.0, 0.05, 0.1, 0.01), (1e3, 5.0, 1e3, 10.0), strict=True):
        assert low <= column.min() < 1.02 * low
        assert 0.98 * high < column.max() <= high
        assert 0.45 < np.mean(column < math.sqrt(low * high)) < 0.55  # spread evenly over the decades


# --- the slogan, the reaction's limit


@pytest.mark.parametrize(
    ("load", "emf", "speed", "verdict"),
    [
        (20.0, [101.0, 102.0], [50.0, 51.0], True),
        (20.0, [99.0, 102.0], [50.0, 51.0], False),
        (20.0, [101.0, 100.0], [50.0, 51.0], False),
        (20.0, [101.0, 102.0], [50.0, 50.0], False),
        (20.0, [101.0, 102.0], [51.0, 50.0], False),
        (120.0, [99.0, 98.0], [50.0, 49.0], True),
        (120.0, [99.0, 101.0], [50.0, 49.0], False),
        (120.0, [100.0, 99.0], [50.0, 49.0], False),
        (120.0, [99.0, 98.0], [50.0, 50.0], False),
        (120.0, [99.0, 98.0], [49.0, 50.0], False),
    ],
)
def test_the_slogan_needs_its_side_of_half_the_voltage_and_its_direction(
    load: float, emf: list[float], speed: list[float], verdict: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    true = steady_state

    def state(machine: Machine, **given: Any) -> Any:
        assert given["supply_voltage"] == 200.0
        if given["load_torque"] != load:
            return true(machine, **given)
        return SimpleNamespace(
            back_emf=np.array(emf), speed=np.array(speed), speed_rpm=np.array(speed) * 30.0 / math.pi
        )

    monkeypatch.setattr(evidence, "steady_state", state)
    words = {
        20.0: "a weaker field raises the speed while the EMF is above half the voltage",
        120.0: "a weaker field lowers the speed while the EMF is below half the voltage",
    }
    assert failed(evidence._slogan()) == ([] if verdict else [words[load]])


def test_the_slogans_speeds_by_hand() -> None:
    # 200 ohm at 200 V and 2 V s/(rad A): kPhi = 2, then 220 ohm: 1.818; omega = U/k - T R/k^2 at 20 N m and 120 N m
    light, heavy = evidence._slogan()
    for check, torque in ((light, 20.0), (heavy, 120.0)):
        first, second = (
            (200.0 / k - torque * 2.0 / k**2) * 30.0 / math.pi for k in (2.0, 2.0 / 1.1)
        )  # fmt: skip
        assert check.detail == f"{first:.1f} r/min, then {second:.1f} r/min"


def refusing(status: Status) -> InfeasibleError:
    return InfeasibleError("no", status=status, quantity="electromagnetic_torque", value=0.0, limit=0.0)


@pytest.mark.parametrize(
    ("current", "above", "verdict"),
    [
        (59.995, Status.TORQUE_BEYOND_REACTION_PEAK, True),
        (60.0, Status.TORQUE_BEYOND_REACTION_PEAK, False),
        (60.5, Status.TORQUE_BEYOND_REACTION_PEAK, False),
        (59.99, Status.TORQUE_BEYOND_REACTION_PEAK, False),
        (59.995, Status.TORQUE_BEYOND_STALL, False),
        (59.995, Status.NO_SOLUTION, False),
        (59.995, None, False),
    ],
)
def test_the_reactions_limit_must_be_reached_from_below_and_refused_above(
    current: float, above: Status | None, verdict: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def state(machine: Machine, **given: Any) -> Any:
        asked.append((given["supply_voltage"], given["load_torque"]))
        if len(asked) == 2 and above is not None:
            raise refusing(above)
        return SimpleNamespace(armature_current=current)

    monkeypatch.setattr(evidence, "steady_state", state)
    check = evidence._reaction_limit()
    assert check.passed == verdict
    # 100 ohm at 120 V, 1 V s/(rad A), 0.01 A lost per ampere: (1.2 - 0.01 I) I is 36 N m at most, at 60 A
    assert check.detail == "limit 36 N m"
    assert asked == [(120.0, pytest.approx(36.0 - 36e-9, rel=1e-14)), (120.0, pytest.approx(36.0 + 36e-9, rel=1e-14))]


def test_the_machine_of_the_reactions_limit_still_turns_fast_there(monkeypatch: pytest.MonkeyPatch) -> None:
    true = steady_state
    points = []

    def state(machine: Machine, **given: Any) -> Any:
        points.append(true(machine, **given))
        return points[-1]

    monkeypatch.setattr(evidence, "steady_state", state)
    assert evidence._reaction_limit().passed
    # 60 A through 0.5 ohm leave 90 V, with half the flux of no load, 0.6 V s/rad: 150 rad/s, far from standstill
    assert points[0].speed == pytest.approx(150.0, rel=1e-3)


# --- steps of the rheostats


def row_of_field_steps(third: str, tolerance: str = "2 r/min") -> dict[str, Any]:
    """Unloaded and unsaturated with 100 ohm of field: 1000 r/min, with 25 ohm more 1250, with 80 ohm more 1800."""
    return {
        "supply_voltage": "240 V", "added_field_resistance": ["0 ohm", "25 ohm", "80 ohm"], "source": "by hand",
        "speed_rpm": ["1000 r/min", "1250 r/min", third], "tolerance": tolerance, "seen": "computed",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("third", "tolerance", "verdict"),
    [
        ("1800 r/min", "2 r/min", True),
        ("1801.9 r/min", "2 r/min", True),
        ("1798.1 r/min", "2 r/min", True),
        ("1802.1 r/min", "2 r/min", False),
        ("1797.9 r/min", "2 r/min", False),
        ("1797.9 r/min", "3 r/min", True),
    ],
)
def test_the_second_step_of_the_field_rheostat_must_be_within_the_tolerance(
    third: str, tolerance: str, verdict: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evidence, "standard_value", lambda *_: row_of_field_steps(third, tolerance))
    check = evidence._field_steps()
    assert check.passed == verdict
    seen = third.removesuffix(" r/min")
    allowed = tolerance.removesuffix(" r/min")
    assert check.detail == f"1800.0 r/min predicted, {seen} r/min seen, {allowed} r/min allowed"
    assert (check.source, check.seen) == ("by hand (computed)", "computed")


@pytest.mark.parametrize(
    ("speeds", "verdict"),
    [
        ([1500.0, 1400.0, 1300.0], True),
        ([1500.0, 1500.0, 1300.0], False),
        ([1500.0, 1400.0, 1400.0], False),
        ([1500.0, 1400.0, 1450.0], False),
        ([1500.0, 1550.0, 1450.0], False),
    ],
)
def test_each_step_of_the_armature_rheostat_must_slow_the_machine(
    speeds: list[float], verdict: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = {}

    def state(machine: Machine, **given: Any) -> Any:
        asked.update(given)
        return SimpleNamespace(speed_rpm=np.array(speeds))

    monkeypatch.setattr(evidence, "steady_state", state)
    check = evidence._armature_steps(LABORATORY)
    assert check.passed is verdict
    assert check.detail == ", ".join(f"{speed:.0f}" for speed in speeds) + " r/min"
    assert asked == {"supply_voltage": 120.0, "added_armature_resistance": [0.0, 10.0, 20.0]}


def test_the_steps_of_the_armature_rheostat_are_looked_at_on_a_machine_that_saturates() -> None:
    assert evidence._armature_steps(LABORATORY).passed
    assert not evidence._armature_steps(plain_machine()).passed
