"""The derived counterpart of every formula of the numeric model, under the formula's own name.

The numeric layer writes each formula once as plain arithmetic. Here the same quantity is derived from the laws; a caller
that has both hands a function of the numeric layer to ``tie``, which feeds it sympy symbols and proves that nothing is left
between the two. This room knows the names only, not the functions.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence

import sympy as sp

from shuntref.evidence import Check
from shuntref.theory.algebra import vanishes
from shuntref.theory.closed_forms import closed_form
from shuntref.theory.laws import law
from shuntref.theory.symbols import symbol as s
from shuntref.theory.worksheet import Worksheet, solve_for

__all__ = ["FORMULA_FORMS", "formula_form", "numeric_form", "tie"]

Form = Callable[[], sp.Expr]

#: argument name of a formula -> the quantity it stands for, where the two differ
ALIASES: dict[str, Callable[[], sp.Expr]] = {
    "torque": lambda: s("electromagnetic_torque"),
    "resistance": lambda: s("armature_circuit_resistance"),
    "constant": lambda: s("constant_torque"),
    "proportional": lambda: s("linear_torque_coefficient"),
    "square": lambda: s("square_torque_coefficient"),
    "power": lambda: s("constant_power"),
    "loss_per_ampere": lambda: s("flux_loss_per_ampere"),
    "net_voltage": lambda: s("supply_voltage") - s("brush_drop"),
    "pi": lambda: sp.pi,
}

#: the same for single formulas, where an argument means something special
OWN_ALIASES: dict[str, dict[str, Callable[[], sp.Expr]]] = {
    "k_phi_with_flux_loss": {"k_phi": lambda: s("undisturbed_k_phi")},
    "armature_current_with_flux_loss": {"k_phi": lambda: s("undisturbed_k_phi")},
    "peak_torque_with_flux_loss": {"k_phi": lambda: s("undisturbed_k_phi")},
    "resistance_at_temperature": {"resistance": lambda: s("reference_resistance")},
}


def _law(name: str, unknown: str) -> Form:
    """The law ``name`` solved for one quantity."""
    return lambda: solve_for(law(name).equation, s(unknown))


def _closed(quantity: str, **options: object) -> Form:
    return lambda: closed_form(quantity, **options)  # type: ignore[arg-type]


def _slope(quantity: str) -> Form:
    return lambda: sp.diff(closed_form("speed"), s(quantity))


def _current_form(quantity: str) -> Form:
    """The armature's voltage balance, brush drop kept, solved for one quantity."""
    return _law("armature-circuit", quantity)


def _net_voltage() -> sp.Expr:
    return solve_for(law("armature-circuit").equation, s("back_emf")) + s("armature_current") * s(
        "armature_circuit_resistance"
    )


def _froehlich_slope() -> sp.Expr:
    return sp.diff(closed_form("k_phi", flux="froehlich", detail="field_current"), s("field_current"))


def _froehlich_sensitivity() -> sp.Expr:
    curve = closed_form("k_phi", flux="froehlich", detail="field_current").subs(s("remanent_k_phi"), 0)
    return sp.diff(curve, s("field_current")) * s("field_current") / curve


def _speed_from_current() -> sp.Expr:
    ws = Worksheet()
    ws.state("armature-circuit")
    ws.use("brush-drop-neglected", "brush_drop")
    ws.use("armature-emf", "back_emf")
    ws.solve("speed")
    return ws.current.rhs


def _stall_current() -> sp.Expr:
    return closed_form("armature_current", given="speed").subs(s("speed"), 0)


def _at_peak(start: str, laws: tuple[tuple[str, str], ...], solved: str, wanted: str) -> Form:
    """The peak of what a law gives as the armature current grows, or the current at the peak."""

    def form() -> sp.Expr:
        ws = Worksheet()
        ws.state(start)
        for name, unknown in laws:
            ws.use(name, unknown)
        ws.keep("curve")
        ws.differentiate("armature_current")
        ws.solve("armature_current")
        ws.keep("peak")
        if wanted == solved:
            ws.take_up("curve")
            ws.put("peak")
        return ws.current.rhs

    return form


def _current_with_flux_loss() -> sp.Expr:
    ws = Worksheet()
    ws.state("torque")
    ws.use("flux-loss", "k_phi")
    ws.solve("armature_current", "lower")
    return ws.current.rhs


_REACTION = (
    ("flux-proportional", "k_phi"),
    ("effective-field-current", "effective_field_current"),
    ("reaction-proportional", "reaction_field_current"),
)
_POWER = (("armature-circuit", "back_emf"), ("brush-drop-neglected", "brush_drop"))

#: formula name -> what the laws give for it, derived when called
FORMULA_FORMS: dict[str, Form] = {
    # circuits
    "armature_circuit_resistance": _law("armature-circuit-resistance", "armature_circuit_resistance"),
    "field_circuit_resistance": _law("field-circuit-resistance", "field_circuit_resistance"),
    "net_voltage": _net_voltage,
    "field_current": _closed("field_current", connection="separate"),
    "field_current_behind_line": _closed("field_current", line_resistance=True),
    "supply_voltage_behind_line": _law("line-drop", "supply_voltage"),
    "source_voltage": _law("line-drop", "source_voltage"),
    "line_current": _law("current-sum", "line_current"),
    "armature_current": _current_form("armature_current"),
    "back_emf": _closed("back_emf", given="speed"),
    "back_emf_from_current": _current_form("back_emf"),
    "electromagnetic_torque": _law("torque", "electromagnetic_torque"),
    "armature_current_from_torque": _closed("armature_current"),
    # flux
    "k_phi_proportional": _closed("k_phi", flux="proportional", detail="field_current"),
    "field_current_for_proportional_flux": lambda: _inverse("proportional"),
    "k_phi_froehlich": _closed("k_phi", flux="froehlich", detail="field_current"),
    "k_phi_slope_froehlich": _froehlich_slope,
    "field_current_for_froehlich_flux": lambda: _inverse("froehlich"),
    "field_sensitivity_froehlich": _froehlich_sensitivity,
    "reaction_field_current": _law("reaction-proportional", "reaction_field_current"),
    "effective_field_current": _law("effective-field-current", "effective_field_current"),
    "k_phi_with_flux_loss": _law("flux-loss", "k_phi"),
    # temperature and units
    "resistance_at_temperature": _closed("winding_resistance"),
    "to_rpm": _law("speed-conversion", "speed_rpm"),
    "to_rad_per_s": _law("speed-conversion", "speed"),
    # speed
    "speed_from_emf": _law("armature-emf", "speed"),
    "speed_from_current": _speed_from_current,
    "speed_from_torque": _closed("speed"),
    "speed_shunt_proportional": _closed("speed", flux="proportional"),
    "ideal_no_load_speed": _closed("ideal_no_load_speed"),
    "ideal_no_load_speed_shunt_proportional": _closed("ideal_no_load_speed", flux="proportional"),
    "stall_torque": _closed("stall_torque"),
    "stall_current": _stall_current,
    "torque_at_speed": _closed("electromagnetic_torque"),
    "peak_k_phi": _closed("peak_k_phi"),
    "peak_speed": _closed("peak_speed"),
    "peak_power": _at_peak("electromagnetic-power", _POWER, "electromagnetic_power", "electromagnetic_power"),
    "speed_slope_by_resistance": _slope("armature_circuit_resistance"),
    "speed_slope_by_torque": _slope("electromagnetic_torque"),
    "speed_slope_by_k_phi": _slope("k_phi"),
    "speed_with_quadratic_torque": _closed("speed", load="quadratic"),
    "speed_with_constant_power": _closed("speed", load="constant_power"),
    # flux that depends on the armature current
    "armature_current_with_reaction": _closed(
        "armature_current", flux="proportional", reaction=True, detail="field_current"
    ),
    "armature_current_beyond_reaction_peak": _closed(
        "armature_current", flux="proportional", reaction=True, detail="field_current", branch="upper"
    ),
    "armature_current_behind_line": _closed("armature_current", flux="proportional", line_resistance=True),
    "armature_current_with_flux_loss": _current_with_flux_loss,
    "peak_armature_current_with_reaction": _at_peak("torque", _REACTION, "electromagnetic_torque", "armature_current"),
    "peak_torque_with_reaction": _closed("peak_torque", detail="field_current"),
    "peak_torque_with_flux_loss": _at_peak(
        "torque", (("flux-loss", "k_phi"),), "electromagnetic_torque", "electromagnetic_torque"
    ),
    # sizing
    "k_phi_for_speed": _closed("k_phi"),
    "k_phi_for_speed_weak_field": _closed("k_phi", branch="lower"),
    "supply_voltage_for_speed": _closed("supply_voltage"),
    "armature_resistance_for_speed": lambda: closed_form("added_armature_resistance") + s("armature_resistance"),
    "added_armature_resistance_for_speed": _closed("added_armature_resistance"),
    "field_circuit_resistance_for_current": _law("field-circuit", "field_circuit_resistance"),
    "added_field_resistance_for_current": _closed("added_field_resistance", connection="separate"),
    "added_field_resistance_for_speed_proportional": _closed("added_field_resistance", flux="proportional"),
    # powers and losses
    "input_power_shunt": _law("input-power", "input_power"),
    "input_power_separate": lambda: solve_for(law("input-power-separate").equation, s("input_power")).subs(
        s("line_current"), solve_for(law("current-sum-separate").equation, s("line_current"))
    ),
    "field_copper_loss": _law("field-copper-loss", "field_copper_loss"),
    "added_field_loss": _law("added-field-loss", "added_field_loss"),
    "armature_copper_loss": _law("armature-copper-loss", "armature_copper_loss"),
    "added_armature_loss": _law("added-armature-loss", "added_armature_loss"),
    "brush_loss": _law("brush-loss", "brush_loss"),
    "line_loss": _law("line-loss", "line_loss"),
    "electromagnetic_power": _law("electromagnetic-power", "electromagnetic_power"),
    "rotational_loss": _law("rotational-loss", "rotational_loss"),
    "output_power": _law("output-power", "output_power"),
    "total_loss": _law("total-loss", "total_loss"),
    "efficiency_motoring": _law("efficiency", "efficiency"),
    "efficiency_generating": _law("efficiency-generating", "efficiency"),
}


def _inverse(flux: str) -> sp.Expr:
    """The field current that gives a flux, on one of the curves."""
    ws = Worksheet()
    ws.state(f"flux-{flux}")
    ws.use("effective-field-current", "effective_field_current")
    ws.use("reaction-none", "reaction_field_current")
    ws.solve("field_current")
    return ws.current.rhs


def formula_form(name: str) -> sp.Expr:
    """Return what the laws give for the formula called ``name``, in registry symbols.

    Raises
    ------
    ValueError
        When no form is derived for that name.

    Examples
    --------
    >>> formula_form("peak_speed")
    supply_voltage**2/(4*armature_circuit_resistance*electromagnetic_torque)
    """
    if name not in FORMULA_FORMS:
        raise ValueError(f"no form is derived for a formula called {str(name)[:60]!r}")
    return FORMULA_FORMS[name]()


def _argument(formula: str, parameter: str) -> sp.Expr:
    own: Mapping[str, Callable[[], sp.Expr]] = OWN_ALIASES.get(formula, {})
    meaning = own.get(parameter) or ALIASES.get(parameter)
    return meaning() if meaning is not None else s(parameter)


def numeric_form(name: str, parameters: Sequence[str]) -> Callable[..., object]:
    """Return the derived form as a function of mpmath numbers, for evaluation in any number of digits.

    Parameters
    ----------
    name : name of the formula
    parameters : names of its arguments, in their order; ``pi`` is left out

    Raises
    ------
    ValueError
        No form of that name, or one that depends on something beyond the parameters.

    Examples
    --------
    >>> import mpmath
    >>> with mpmath.workdps(30):
    ...     print(numeric_form("peak_speed", ("supply_voltage", "torque", "resistance"))(mpmath.mpf(120), 6, 1))
    600.0
    """
    form = formula_form(name)
    stands: list[sp.Symbol] = []
    for position, parameter in enumerate(parameters):
        placeholder = sp.Symbol(f"argument_{position}", real=True)
        stands.append(placeholder)
        meaning = _argument(name, parameter)
        if meaning.is_Symbol:
            form = form.xreplace({meaning: placeholder})
        else:  # the net voltage: supply voltage less brush drop
            form = sp.cancel(form.xreplace({s("supply_voltage"): placeholder + s("brush_drop")}))
    if form.free_symbols - set(stands):  # what the form does not depend on may still stand in it
        form = sp.cancel(form)
    rest = form.free_symbols - set(stands)
    if rest:
        raise ValueError(
            f"{name}: the derived form depends on {', '.join(sorted(map(str, rest)))} beyond its arguments"
        )
    function: Callable[..., object] = sp.lambdify(stands, form, modules="mpmath")
    return function


def tie(name: str, function: Callable[..., object]) -> Check:
    """Prove that a function of the numeric layer equals the derived form of the same name.

    The function is called with one symbol for each of its arguments, taken by name; the difference from the derived form
    must reduce to zero by algebra.

    Parameters
    ----------
    name : name of the formula
    function : the function itself; its arguments carry the names of quantities, or of ``ALIASES``

    Returns
    -------
    Check

    Examples
    --------
    >>> def speed_from_emf(back_emf, k_phi):
    ...     return back_emf/k_phi
    >>> tie("speed_from_emf", speed_from_emf).passed
    True
    >>> tie("speed_from_emf", lambda back_emf, k_phi: back_emf*k_phi).passed
    False
    """
    statement = f"formula {name} is what the laws give"
    if name not in FORMULA_FORMS:
        return Check(
            "formulas tied to the laws",
            statement,
            False,
            "no derived form of that name; FORMULA_FORMS in shuntref/theory/formula_forms.py needs one",
        )
    arguments = [_argument(name, parameter) for parameter in inspect.signature(function).parameters]
    written: object = function(*arguments)
    passed = vanishes(-formula_form(name) + written)
    return Check("formulas tied to the laws", statement, passed, "difference is 0" if passed else "difference is not 0")
