"""How the speed answers to each quantity it depends on: partial derivatives and log-log sensitivities.

The machine is described by as many equations as it has unknowns (the armature current; and behind a line resistance the
voltage at the terminals); the speed is a function of these and of the given quantities. Implicit differentiation then needs
no closed form, so that a flux curve known only by its value and slope at the operating point serves as well. Motoring.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import TypeAlias

import sympy as sp

from shuntref.theory.closed_forms import closed_form
from shuntref.theory.laws import law
from shuntref.theory.recipes import CHOICES
from shuntref.theory.symbols import symbol as s
from shuntref.theory.working import Options, supply_behind_line
from shuntref.theory.worksheet import Worksheet, solve_for

__all__ = ["log_sensitivity", "numeric_sensitivities", "numeric_speed", "sensitivity", "speed_sensitivities"]

Function: TypeAlias = Callable[..., float]

_CURVE = sp.Function("k_phi_of")


def _check(flux: str, connection: str) -> None:
    for name, value in (("flux", flux), ("connection", connection)):
        if value not in CHOICES[name]:
            raise ValueError(f"{name} {str(value)[:40]!r}: accepted are {', '.join(map(repr, CHOICES[name]))}")


def _flux_of(current: sp.Expr, flux: str) -> sp.Expr:
    if flux == "general":
        return _CURVE(current)
    return solve_for(law(f"flux-{flux}").equation, s("k_phi")).subs(s("effective_field_current"), current)


def _given(flux: str, brush_drop: bool, line_resistance: bool, connection: str, reaction: bool) -> tuple[str, ...]:
    """The quantities that the speed depends on."""
    names = ["source_voltage" if line_resistance else "supply_voltage"]
    names += ["field_voltage"] * (connection == "separate")
    names += ["field_resistance", "added_field_resistance", "armature_resistance", "added_armature_resistance"]
    names += ["line_resistance"] * line_resistance + ["brush_drop"] * brush_drop
    names += {
        "general": [],
        "proportional": ["flux_constant"],
        "froehlich": ["remanent_k_phi", "froehlich_a", "froehlich_b"],
    }[flux]
    names += ["reaction_coefficient"] * reaction
    return (*names, "electromagnetic_torque")


@lru_cache(maxsize=64)
def _system(
    flux: str, brush_drop: bool, line_resistance: bool, connection: str, reaction: bool
) -> tuple[sp.Expr, tuple[tuple[sp.Symbol, sp.Expr], ...]]:
    """The speed, and (unknown, residual that vanishes) for each unknown, over the given quantities and the unknowns."""
    current, supply = s("armature_current"), s("supply_voltage")
    field_voltage = supply if connection == "shunt" else s("field_voltage")
    totals = {
        s(f"{which}_circuit_resistance"): s(f"{which}_resistance") + s(f"added_{which}_resistance")
        for which in ("armature", "field")
    }
    field_current = closed_form("field_current", connection="separate").subs(s("field_voltage"), field_voltage)
    field_current = field_current.subs(totals)
    lost = solve_for(
        law("reaction-proportional" if reaction else "reaction-none").equation, s("reaction_field_current")
    )
    k_phi = _flux_of(field_current - lost, flux)
    ws = Worksheet()
    ws.state("armature-circuit")
    if not brush_drop:
        ws.use("brush-drop-neglected", "brush_drop")
    ws.use("armature-emf", "back_emf")
    ws.solve("speed")
    speed = ws.current.rhs.subs(totals).subs(s("k_phi"), k_phi)
    torque = law("torque").residual.subs(s("k_phi"), k_phi)
    unknowns = [(current, torque)]
    if line_resistance:
        line = law("current-sum" if connection == "shunt" else "current-sum-separate")
        drop = law("line-drop").residual.subs(s("line_current"), solve_for(line.equation, s("line_current")))
        unknowns.append((supply, drop.subs(s("field_current"), field_current)))
    return speed, tuple(unknowns)


def _name_the_curve(expression: sp.Expr) -> sp.Expr:
    """Write k_phi and k_phi_slope for the value and the slope of a flux curve that is not specified."""
    expression = expression.doit().replace(lambda e: isinstance(e, sp.Subs | sp.Derivative), lambda e: s("k_phi_slope"))
    return expression.replace(lambda e: e.func == _CURVE, lambda e: s("k_phi"))


@lru_cache(maxsize=64)
def _derivatives(
    flux: str, brush_drop: bool, line_resistance: bool, connection: str, reaction: bool
) -> dict[str, sp.Expr]:
    speed, unknowns = _system(flux, brush_drop, line_resistance, connection, reaction)
    symbols = [x for x, _ in unknowns]
    residuals = [residual for _, residual in unknowns]
    jacobian = sp.Matrix([[_name_the_curve(sp.diff(f, x)) for x in symbols] for f in residuals])
    # one adjoint solution serves every quantity: d omega/d p = omega_p - w . F_p with J^T w = omega_x
    adjoint = jacobian.T.LUsolve(sp.Matrix([_name_the_curve(sp.diff(speed, x)) for x in symbols]))
    found: dict[str, sp.Expr] = {}
    for name in _given(flux, brush_drop, line_resistance, connection, reaction):
        direct = _name_the_curve(sp.diff(speed, s(name)))
        through = sum(
            (w * _name_the_curve(sp.diff(f, s(name))) for w, f in zip(adjoint, residuals, strict=True)), sp.Integer(0)
        )
        found[name] = direct - through
    return found


@lru_cache(maxsize=64)
def _unknown_forms(flux: str, line_resistance: bool, connection: str, reaction: bool) -> dict[str, sp.Expr]:
    """Closed forms of the unknowns in terms of the given quantities, as far as there are any."""
    options = Options(
        flux=flux, line_resistance=line_resistance, connection=connection, reaction=reaction, detail="parts"
    )
    forms: dict[str, sp.Expr] = {}
    if flux == "general" or (reaction and line_resistance):
        return forms
    if line_resistance:
        ws = Worksheet()
        supply_behind_line(ws, options)
        for which in ("field", "armature"):
            ws.use(f"{which}-circuit-resistance", f"{which}_circuit_resistance")
        forms["supply_voltage"] = ws.current.rhs
        plain = closed_form("armature_current", flux=flux, connection=connection, detail="parts")
    else:
        plain = closed_form("armature_current", flux=flux, connection=connection, reaction=reaction, detail="parts")
    forms["armature_current"] = plain  # in terms of the terminal voltage
    return forms


def speed_sensitivities(
    flux: str = "proportional",
    *,
    brush_drop: bool = False,
    line_resistance: bool = False,
    connection: str = "shunt",
    reaction: bool = False,
    logarithmic: bool = False,
    explicit: bool = False,
) -> dict[str, sp.Expr]:
    """Return the derivative of the speed with respect to every quantity it depends on.

    Parameters
    ----------
    flux : 'proportional', 'froehlich', or 'general' for a curve known by ``k_phi`` and ``k_phi_slope`` at the point
    brush_drop : take the brush drop into account
    line_resistance : the source voltage is given, ahead of a line resistance
    connection : 'shunt' or 'separate'
    reaction : armature reaction in proportion to the armature current
    logarithmic : relative change of speed per relative change of the quantity, instead of the plain derivative
    explicit : put in the closed forms of the unknowns too, so that only given quantities are left

    Returns
    -------
    dict of quantity name to sympy expression. Unless ``explicit`` is asked for, the expressions contain, besides the given
    quantities, those of the operating point that stay unknown to algebra: ``armature_current``; ``supply_voltage`` behind a
    line; ``k_phi`` and ``k_phi_slope`` for general flux.

    Raises
    ------
    ValueError
        For a flux or connection that is not known, or when the explicit form is asked for where there is none.

    Notes
    -----
    The torque is the electromagnetic torque and is held constant; the derivative by load torque or loss torque is the same.

    Examples
    --------
    >>> found = speed_sensitivities("general", connection="separate")
    >>> sp.factor(found["supply_voltage"])
    1/k_phi
    >>> found["armature_resistance"]
    -armature_current/k_phi
    >>> speed_sensitivities("proportional", explicit=True)["electromagnetic_torque"]
    -(added_armature_resistance + armature_resistance)*(added_field_resistance + field_resistance)**2/(flux_constant**2*...
    """
    _check(flux, connection)
    found = dict(_derivatives(flux, brush_drop, line_resistance, connection, reaction))
    if logarithmic:
        speed = _name_the_curve(_system(flux, brush_drop, line_resistance, connection, reaction)[0])
        found = {name: form * s(name) / speed for name, form in found.items()}
    if explicit:
        forms = _unknown_forms(flux, line_resistance, connection, reaction)
        if not forms:
            raise ValueError(
                "no explicit sensitivities: the current is not known in closed form for general flux, nor with "
                "armature reaction behind a line"
            )
        for unknown in ("armature_current", "supply_voltage"):  # the current first, it contains the voltage
            if unknown in forms:
                found = {name: form.subs(s(unknown), forms[unknown]) for name, form in found.items()}
    return found


def sensitivity(wrt: str, flux: str = "proportional", **options: bool | str) -> sp.Expr:
    """Return the derivative of the speed with respect to one quantity.

    Parameters
    ----------
    wrt : name of the quantity
    flux, options : as for ``speed_sensitivities``

    Returns
    -------
    sympy expression

    Raises
    ------
    ValueError
        When the speed does not depend on that quantity.

    Notes
    -----
    The implicit derivative of the laws that the speed follows from; the self-check holds it against the explicit one.

    Examples
    --------
    >>> sensitivity("electromagnetic_torque", "general", connection="separate")
    -(added_armature_resistance + armature_resistance)/k_phi**2
    """
    found = speed_sensitivities(flux, **options)  # type: ignore[arg-type]
    if wrt not in found:
        raise ValueError(f"the speed does not depend on {str(wrt)[:60]!r} here; it depends on {', '.join(found)}")
    return found[wrt]


def log_sensitivity(wrt: str, flux: str = "proportional", **options: bool | str) -> sp.Expr:
    """Return the relative change of speed per relative change of one quantity.

    Parameters and errors are those of ``sensitivity``.

    Parameters
    ----------
    wrt : str
        The quantity that is changed.
    flux : {"general", "proportional", "froehlich"}
        How the flux goes with the field current.
    **options
        As for ``sensitivity``.

    Returns
    -------
    sympy expression
        In registry symbols; a pure number.

    Notes
    -----
    The derivative times the quantity over the speed.

    Examples
    --------
    >>> from shuntref.theory.closed_forms import closed_form
    >>> form = log_sensitivity("supply_voltage", "general", connection="separate")
    >>> sp.simplify(form.subs(s("armature_current"), 0))
    1
    """
    return sensitivity(wrt, flux, **options, logarithmic=True)


class _Evaluated:
    """One expression as a function of keyword numbers; unknowns that have a closed form are worked out first."""

    def __init__(self, expression: sp.Expr, forms: Mapping[str, sp.Expr]) -> None:
        self._steps = []
        for name in ("supply_voltage", "armature_current"):
            if name in forms and expression.has(s(name)) | (name == "supply_voltage"):
                self._steps.append((name, *self._compiled(forms[name])))
        self._arguments, self._function = self._compiled(expression)

    @staticmethod
    def _compiled(expression: sp.Expr) -> tuple[list[str], Function]:
        names = sorted(x.name for x in expression.free_symbols)
        return names, sp.lambdify([s(name) for name in names], expression, modules="math", cse=True)

    def __call__(self, **values: float) -> float:
        known = dict(values)
        if "electromagnetic_torque" not in known and "load_torque" in known:
            known["electromagnetic_torque"] = known["load_torque"] + known.get("loss_torque", 0.0)
        for name, arguments, function in (*self._steps, ("", self._arguments, self._function)):
            missing = [argument for argument in arguments if argument not in known]
            if missing:
                raise ValueError(f"the sensitivity of the speed needs {', '.join(missing)}")
            known[name] = float(function(*(known[argument] for argument in arguments)))
        return known[""]


def numeric_sensitivities(
    flux: str = "proportional",
    *,
    brush_drop: bool = False,
    line_resistance: bool = False,
    connection: str = "shunt",
    reaction: bool = False,
    logarithmic: bool = False,
) -> dict[str, Function]:
    """Return the same derivatives as functions of floats, given by keyword.

    Parameters
    ----------
    flux, brush_drop, line_resistance, connection, reaction, logarithmic : as for ``speed_sensitivities``

    Returns
    -------
    dict of quantity name to a function. It takes the given quantities by keyword, in registry units, and ignores others, so
    that a whole operating point may be passed; ``load_torque`` and ``loss_torque`` serve for the torque. For general flux it
    takes ``k_phi``, ``k_phi_slope`` and ``armature_current`` of the point, and ``supply_voltage`` behind a line.

    Examples
    --------
    >>> slope = numeric_sensitivities("proportional")["added_field_resistance"]
    >>> round(slope(supply_voltage=120.0, field_resistance=150.0, added_field_resistance=10.0, armature_resistance=0.8,
    ...             added_armature_resistance=0.0, flux_constant=1.0, electromagnetic_torque=6.0), 6)
    0.893333
    """
    forms = speed_sensitivities(
        flux,
        brush_drop=brush_drop,
        line_resistance=line_resistance,
        connection=connection,
        reaction=reaction,
        logarithmic=logarithmic,
    )
    unknowns = _unknown_forms(flux, line_resistance, connection, reaction)
    return {name: _Evaluated(form, unknowns) for name, form in forms.items()}


def numeric_speed(
    flux: str = "proportional",
    *,
    brush_drop: bool = False,
    line_resistance: bool = False,
    connection: str = "shunt",
    reaction: bool = False,
) -> Function:
    """Return the speed [rad/s] itself as a function of the same keywords, to set the derivatives against.

    Examples
    --------
    >>> speed = numeric_speed("proportional")
    >>> round(speed(supply_voltage=120.0, field_resistance=150.0, added_field_resistance=10.0, armature_resistance=0.8,
    ...             added_armature_resistance=0.0, flux_constant=1.0, electromagnetic_torque=6.0), 6)
    151.466667
    """
    _check(flux, connection)
    speed = _name_the_curve(_system(flux, brush_drop, line_resistance, connection, reaction)[0])
    return _Evaluated(speed, _unknown_forms(flux, line_resistance, connection, reaction))
