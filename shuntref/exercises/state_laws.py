"""Which laws are at work in a running condition, in the order in which a teacher would reach for them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shuntref.exercises.statement import Exercise, State

__all__ = ["LEFT_OUT_OF_GROUPS", "TAKEN_AS_NOTHING", "TYING", "WINDING", "laws_of_state"]

#: quantities that are nothing unless the exercise mentions or asks them
TAKEN_AS_NOTHING: dict[str, float] = {
    "added_field_resistance": 0.0,
    "added_armature_resistance": 0.0,
    "line_resistance": 0.0,
    "brush_drop": 0.0,
    "reaction_field_current": 0.0,
    "series_turns": 0.0,
    "stray_loss": 0.0,
    "reaction_flux_loss": 0.0,
    "flux_ratio": 1.0,
}

#: laws that make two names one where the rest of the law is nothing: R = R_a without a rheostat, U_f = U on a shunt
TYING = frozenset(
    {"shunt-connection", "armature-circuit-resistance", "field-circuit-resistance", "effective-field-current",
     "compound-field-current", "line-drop", "torque-balance", "power-balance", "current-sum", "current-sum-separate",
     "starting-current", "starting-resistance", "flux-ratio"}
)  # fmt: skip

#: of the balances of torque and of power one follows from the other: a simultaneous group is made up without the first
#: set, or, where that leads nowhere, without the second; without rotational loss the output is the developed power, too
LEFT_OUT_OF_GROUPS = (
    frozenset({"shaft-power", "power-balance"}),
    frozenset({"shaft-power", "torque-balance"}),
    frozenset({"shaft-power", "output-power"}),
)

#: data of the armature winding
WINDING = ("poles", "pole_pairs", "parallel_paths", "conductors", "armature_turns", "coils", "turns_per_coil",
           "slots", "conductors_per_slot", "flux_per_pole")  # fmt: skip


def laws_of_state(exercise: Exercise, state: State, mentions: Callable[[str], bool], standstill: bool) -> Iterator[str]:
    """Yield the slugs of the laws at work in ``state``.

    Parameters
    ----------
    exercise
        The exercise.
    state
        One of its states.
    mentions
        Tells whether the exercise mentions or asks a quantity for this state.
    standstill
        Whether the shaft is known to stand still.

    Examples
    --------
    >>> names = list(laws_of_state(Exercise("t", "s", {}, {}), State("running"), lambda name: False, False))
    >>> names[:3]
    ['speed-conversion', 'shunt-connection', 'field-circuit-resistance']
    """
    neglect = exercise.neglect | state.neglect
    yield "speed-conversion"
    current = state.entries.get("field_current")
    for winding in ("field", "armature"):
        if mentions(f"cold_{winding}_resistance"):
            yield f"{winding}-temperature"
    yield from _field_laws(exercise, mentions, current is not None and current.value == 0)
    yield from _flux_laws(exercise, state, mentions)
    yield "armature-circuit-resistance"
    if mentions("brush_drop_per_brush"):
        yield "brush-pair"
    yield from _line_laws(exercise, neglect)
    if standstill:
        yield from ("starting-current", "starting-resistance")
    if "armature-drop" in neglect:
        yield "armature-drop-neglected"
    else:
        yield "armature-circuit" if state.action == "motor" else "armature-circuit-signed"
        yield from ("armature-drop", "armature-copper-loss", "brush-loss")
    yield from ("armature-emf", "torque", "electromagnetic-power")
    yield from _shaft_laws(exercise, state, mentions, standstill)
    yield from ("added-armature-loss", "armature-input-power")
    if mentions("copper_loss"):
        yield "copper-loss"
    yield "efficiency" if state.action == "motor" else "efficiency-generating"
    yield "loss-balance"
    if state.condition == "maximum-efficiency":
        yield "maximum-efficiency"


def _field_laws(exercise: Exercise, mentions: Callable[[str], bool], field_open: bool) -> Iterator[str]:
    if exercise.connection == "permanent-magnet":
        return
    if exercise.connection == "shunt":
        yield "shunt-connection"
    yield "field-circuit-resistance"
    if not field_open:
        yield "field-circuit"
    if mentions("reaction_coefficient"):
        yield "reaction-proportional"
    if mentions("demagnetising_mmf"):
        yield "demagnetising-field-current"
    yield "compound-field-current" if mentions("series_turns") else "effective-field-current"
    yield from ("field-copper-loss", "added-field-loss")


def _flux_laws(exercise: Exercise, state: State, mentions: Callable[[str], bool]) -> Iterator[str]:
    law = exercise.flux.law
    if law in ("proportional", "froehlich"):
        yield f"flux-{law}"
    if law in ("table", "readings"):
        yield "curve-emf"
    if mentions("reaction_flux_loss") or mentions("flux_ratio"):
        yield "flux-ratio"
    if any(mentions(name) for name in WINDING):
        yield from _winding_laws(exercise, mentions)
    if mentions("ideal_no_load_speed"):
        yield "ideal-no-load-speed"
    if mentions("stall_torque"):
        yield "stall-torque"


def _winding_laws(exercise: Exercise, mentions: Callable[[str], bool]) -> Iterator[str]:
    if mentions("pole_pairs"):
        yield "pole-pairs"
    if exercise.winding:
        yield f"{exercise.winding}-winding"
    if mentions("armature_turns") or mentions("coils"):
        yield "conductors-of-turns"
    if mentions("coils"):
        yield "turns-of-coils"
    if mentions("slots"):
        yield "conductors-of-slots"
    yield "winding-constant"


def _line_laws(exercise: Exercise, neglect: frozenset[str]) -> Iterator[str]:
    alone = exercise.connection != "shunt" or "field-current" in neglect
    yield "current-sum-separate" if alone else "current-sum"
    yield "line-drop"
    two_supplies = exercise.connection == "separate" and "field-current" not in neglect
    yield "input-power-separate" if two_supplies else "input-power"
    yield "line-loss"


def _shaft_laws(exercise: Exercise, state: State, mentions: Callable[[str], bool], standstill: bool) -> Iterator[str]:
    stray = mentions("stray_loss") or exercise.losses.stray_share is not None
    if mentions("brake_force") or mentions("pulley_diameter"):
        yield "brake-torque"
    yield "output-power"
    yield "shaft-power"
    if not standstill:
        yield from ("rotational-loss", "power-balance")
    if not stray:
        yield "torque-balance"
    if exercise.losses.stray_share is not None and "stray_loss" not in state.entries and not standstill:
        yield f"stray-share-of-{exercise.losses.stray_of.removesuffix('_power')}"
    if any(mentions(f"{part}_torque_coefficient") for part in ("linear", "square")) or mentions("constant_torque"):
        yield "load-quadratic"
