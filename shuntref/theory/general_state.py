"""A state of the machine that obeys every law, in free symbols: what each step of a derivation must be true of.

The quantities chosen freely are the currents, the flux, the speed and the resistances; the laws then give the rest one
after another, each by one linear equation and without roots. An equation that follows from the laws is satisfied
identically when these are put in.
"""

from __future__ import annotations

from functools import cache, lru_cache

import sympy as sp

from shuntref.theory.algebra import at_point, has_radical, positive, vanishes
from shuntref.theory.laws import law
from shuntref.theory.symbols import symbol
from shuntref.theory.worksheet import Step, solve_for

__all__ = ["general_state", "holds_in_state"]

# law, and the quantity that it gives once the earlier ones are known
_CHAIN = (
    ("effective-field-current", "effective_field_current"),
    ("flux-proportional", "flux_constant"),
    ("flux-froehlich", "froehlich_a"),
    ("armature-emf", "back_emf"),
    ("torque", "electromagnetic_torque"),
    ("armature-circuit-resistance", "armature_circuit_resistance"),
    ("armature-circuit", "supply_voltage"),
    ("field-circuit", "field_circuit_resistance"),
    ("field-circuit-resistance", "field_resistance"),
    ("line-drop", "source_voltage"),
    ("torque-balance", "load_torque"),
    ("speed-conversion", "speed_rpm"),
    ("load-quadratic", "constant_torque"),
    ("flux-loss", "undisturbed_k_phi"),
    ("starting-resistance", "starting_resistance"),
    ("starting-current", "starting_current"),
    ("winding-temperature", "winding_resistance"),
)

# The free quantities at one point of each branch: ordinary running; a field weaker than that of the peak speed; a
# current beyond the peak that armature reaction gives the torque; the lower root of a load with constant power, and the
# backward root of a quadratic load.
_POINTS = {
    "ordinary": {"armature_current": "7", "field_current": "3/4", "k_phi": "3/5", "speed": "150"},
    "weak field": {"armature_current": "40", "field_current": "1/8", "k_phi": "1/10", "speed": "120"},
    "past the reaction peak": {"armature_current": "800", "field_current": "3/4", "k_phi": "1/5", "speed": "150"},
    "near standstill": {"armature_current": "7", "field_current": "3/4", "k_phi": "3/5", "speed": "1/10"},
    "backward root": {"armature_current": "7", "field_current": "3/4", "k_phi": "3/5", "speed": "-20000"},
}
_REST = {
    "armature_resistance": "4/5",
    "added_armature_resistance": "1/5",
    "added_field_resistance": "20",
    "line_resistance": "1/10",
    "brush_drop": "2",
    "loss_torque": "1/4",
    "reaction_coefficient": "1/2000",
    "remanent_k_phi": "1/50",
    "froehlich_b": "9/10",
    "linear_torque_coefficient": "1/500",
    "square_torque_coefficient": "1/100000",
    "constant_power": "5",
    "temperature_constant": "235",
    "reference_temperature": "20",
    "winding_temperature": "75",
    "reference_resistance": "160",
    "field_voltage": "110",
}


@cache
def _solved(law_name: str, unknown: str) -> sp.Expr:
    return solve_for(law(law_name).equation, symbol(unknown))


@lru_cache(maxsize=128)
def general_state(assumptions: frozenset[str] = frozenset()) -> dict[str, sp.Expr]:
    """Return every quantity of the circuit in terms of the free ones.

    Parameters
    ----------
    assumptions : slugs of laws that hold besides those of the machine, such as 'brush-drop-neglected', 'standstill',
        'ideal-no-load', 'reaction-proportional', 'current-sum-separate'; and 'peak-speed' or 'peak-torque' for the two
        states where a derivative vanishes

    Returns
    -------
    dict of quantity name to expression in the free symbols

    Examples
    --------
    >>> general_state(frozenset({"brush-drop-neglected"}))["supply_voltage"]
    armature_current*(added_armature_resistance + armature_resistance) + k_phi*speed
    """
    state: dict[str, sp.Expr] = {}

    def give(law_name: str, unknown: str) -> None:
        form = _solved(law_name, unknown)
        state[unknown] = form.xreplace({x: state[x.name] for x in form.free_symbols if x.name in state})

    if "brush-drop-neglected" in assumptions:
        give("brush-drop-neglected", "brush_drop")
    if "standstill" in assumptions:
        give("standstill", "speed")
    if "ideal-no-load" in assumptions:
        state["armature_current"] = sp.Integer(0)
    if "peak-speed" in assumptions:  # half of the voltage left by the brushes is dropped in the armature circuit
        state["speed"] = (
            symbol("armature_current")
            * (symbol("armature_resistance") + symbol("added_armature_resistance"))
            / symbol("k_phi")
        )
    if "peak-torque" in assumptions:
        state["armature_current"] = symbol("field_current") / (2 * symbol("reaction_coefficient"))
    give(
        "reaction-proportional" if "reaction-proportional" in assumptions else "reaction-none", "reaction_field_current"
    )
    give("current-sum-separate" if "current-sum-separate" in assumptions else "current-sum", "line_current")
    signed = "armature-circuit-signed" in assumptions  # stated only where the current is zero
    if "shunt-connection" not in assumptions and "current-sum-separate" in assumptions:
        state["field_voltage"] = symbol("field_voltage")
    for law_name, unknown in _CHAIN:
        if law_name == "field-circuit" and "field_voltage" not in state:
            give("shunt-connection", "field_voltage")
        if law_name == "load-quadratic" and "load-constant-power" in assumptions:
            law_name = "load-constant-power"
        give("armature-circuit-signed" if signed and law_name == "armature-circuit" else law_name, unknown)
    state["ideal_no_load_speed"] = state["peak_speed"] = state.get("speed", symbol("speed"))
    state["stall_torque"] = state["peak_torque"] = state["electromagnetic_torque"]
    state["peak_k_phi"] = symbol("k_phi")
    return state


def holds_in_state(step: Step, assumptions: frozenset[str], point: str = "ordinary") -> bool:
    """Return whether the result of a step is satisfied identically by the general state.

    A result with a root in it is true on one branch only; it is evaluated instead, in exact rational arithmetic, at a
    running point on that branch.

    Examples
    --------
    >>> from shuntref.theory.recipes import options_for, work_out
    >>> step = work_out("speed", options_for("speed")).steps[-1]
    >>> holds_in_state(step, frozenset({"brush-drop-neglected"}))
    True
    """
    state = general_state(assumptions)
    residual = step.residual.xreplace({s: state[s.name] for s in step.residual.free_symbols if s.name in state})
    if not has_radical(residual):
        return vanishes(residual)
    numbers = {name: sp.Rational(text) for name, text in (_REST | _POINTS[point]).items()}
    return bool(sp.expand(at_point(positive(residual), numbers)) == 0)
