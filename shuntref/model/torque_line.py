"""The whole speed-torque line of a machine at one setting, from no load to standstill."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import Any

import numpy as np

from shuntref.model.block_solver import Solved, flag_solved
from shuntref.model.load import LoadTerms
from shuntref.model.machine import Machine
from shuntref.model.recipes import recipes_for
from shuntref.model.result import SteadyState, wanted_names
from shuntref.model.setting import gather
from shuntref.model.status import Status
from shuntref.model.torque_balance import balance_of
from shuntref.model.validation import as_array, check_array, refuse

__all__ = ["speed_torque_line"]

_MOST_POINTS = 1_000_000


def speed_torque_line(
    machine: Machine,
    *,
    supply_voltage: float | None = None,
    added_field_resistance: float = 0.0,
    added_armature_resistance: float = 0.0,
    field_voltage: float | None = None,
    source_voltage: float | None = None,
    line_resistance: float | None = None,
    points: int = 201,
    armature_current: Any = None,
    quantities: Iterable[str] | None = None,
) -> SteadyState:
    """Return the speed-torque line of a machine at one setting.

    Parameters
    ----------
    machine : Machine
    supply_voltage, field_voltage, source_voltage : float
        [V] As for ``steady_state``.
    added_field_resistance, added_armature_resistance, line_resistance : float
        [ohm]
    points : int
        Number of points, evenly spaced in armature current from none to the one at standstill.
    armature_current : sequence of float, optional
        [A] In place of ``points``, the currents at which the line is wanted; negative where the machine generates.
    quantities : names, optional
        What is wanted; everything by default.

    Returns
    -------
    SteadyState
        Arrays along the line. ``electromagnetic_torque`` against ``speed`` is the line; ``load_torque`` is what is left for
        the shaft after the loss torque. ``stable`` says whether the point would be stable under a load of constant torque.
        Where a measured table ends and refuses extrapolation there is NaN, with the status ``outside-table``.

    Raises
    ------
    ValueError
        As for ``steady_state``; arrays where one setting is wanted; a line that never comes to standstill (no resistance
        in the armature circuit) without ``armature_current``.

    Notes
    -----
    Along the line the armature current is given, so that k_phi, E = U - U_b - I_a R, omega = E/kPhi and T = kPhi I_a follow
    in turn; laws armature-circuit, armature-emf and torque.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux, speed_torque_line
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> line = speed_torque_line(bench, supply_voltage=120.0, points=3)
    >>> line.electromagnetic_torque, line.speed
    (array([  0.  ,  56.25, 112.5 ]), array([160.,  80.,   0.]))
    """
    given = {
        "supply_voltage": supply_voltage,
        "source_voltage": source_voltage,
        "field_voltage": field_voltage,
        "added_field_resistance": added_field_resistance,
        "added_armature_resistance": added_armature_resistance,
        "line_resistance": line_resistance,
    }
    setting = gather(machine, given, None, None)
    if setting.varying:
        name = next(iter(setting.varying))
        raise refuse(name, f"an array of shape {setting.shape}", "one number, for one line,")
    names = wanted_names(quantities)
    values = setting.block(0, 1)
    balance = balance_of(values, machine.connection, setting.behind_line)
    current = _currents(balance.greatest_current(1.0), points, armature_current)
    values["armature_current"] = current
    recipes = dict(
        recipes_for(machine.connection, behind_line=setting.behind_line, rigid=balance.rigid, solved="current")
    )
    recipes["load_torque"] = (lambda whole, loss: whole - loss, ("electromagnetic_torque", "loss_torque"))
    solved = Solved(values, recipes, None, True, False, False)
    with np.errstate(all="ignore"):
        emf = np.asarray(solved.quantity("back_emf"))
        end = np.abs(emf) <= 8.0 * np.finfo(float).eps * abs(balance.u0)
        values["back_emf"] = np.where(end, 0.0, emf)  # standstill is standstill, whatever the last digit says
        speed = np.asarray(solved.quantity("speed"))
        no_flux = ~(np.broadcast_to(np.asarray(solved.quantity("k_phi")), current.shape) > 0.0)
        values["speed"] = np.where(no_flux, 1.0, speed)
        status = np.zeros(current.size, np.uint8)
        status[no_flux] = Status.NO_SOLUTION
        constant = dataclasses.replace(balance, terms=LoadTerms())
        flag_solved(constant, solved, status, failed=bool(no_flux.any()))
        lost = status >= Status.TORQUE_BEYOND_STALL
        out = {}
        for name in names:
            column = np.broadcast_to(np.asarray(solved.quantity(name), float), current.shape).copy()
            if name not in setting.fixed and name != "armature_current":
                column[lost] = np.nan
            out[name] = column
    return SteadyState(
        out,
        None,
        names,
        shape=current.shape,
        status=status,
        stable=np.broadcast_to(solved.stable, current.shape),
        field_loss=np.broadcast_to(solved.field_loss, current.shape),
        extrapolated=np.broadcast_to(solved.extrapolated, current.shape),
    )


def _currents(standstill: Any, points: int, armature_current: Any) -> np.ndarray[Any, Any]:
    """The currents of the line."""
    if armature_current is not None:
        current = np.atleast_1d(as_array("armature_current", armature_current)).astype(float)
        if current.ndim != 1 or current.size == 0:
            raise refuse("armature_current", armature_current, "a list of numbers")
        check_array("armature_current", current, "finite")
        return current
    if not isinstance(points, int) or isinstance(points, bool) or not 2 <= points <= _MOST_POINTS:
        raise ValueError(f"points is {points!r:.60}; a whole number from 2 to {_MOST_POINTS} is needed")
    end = float(standstill)
    if not 0.0 < end < float("inf"):
        raise ValueError(
            "this line never comes to standstill (no resistance in the armature circuit, or no voltage above the brush"
            " drop); give armature_current"
        )
    return np.linspace(0.0, end, points)
