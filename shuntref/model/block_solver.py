"""One block of points solved: closed forms where there are any, the search for the first root where there are none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from shuntref.model import formulas
from shuntref.model.first_root import first_roots
from shuntref.model.flux import ProportionalFlux
from shuntref.model.reaction import FluxLoss, ProportionalReaction
from shuntref.model.recipes import Recipes, recipes_for, resolve
from shuntref.model.setting import Setting
from shuntref.model.status import Status
from shuntref.model.torque_balance import Directed, TorqueBalance, balance_of
from shuntref.model.validation import refuse

__all__ = ["Solved", "plan_of", "solve_block"]

Array = np.ndarray[Any, Any]


@dataclass
class Solved:
    """A block after solving: known quantities, the recipes for the others, and what became of each point.

    ``status`` is None where all is well; ``stable``, ``field_loss`` and ``extrapolated`` are arrays or one value for all.
    """

    values: dict[str, Any]
    recipes: Recipes
    status: Array | None
    stable: Any
    field_loss: Any
    extrapolated: Any

    def quantity(self, name: str) -> Any:
        """A quantity of the registry: a float that holds for all points, or an array."""
        return resolve(name, self.values, self.recipes)


def plan_of(balance: TorqueBalance) -> str:
    """Which way leads to the solution: "torque", "quadratic", "speed" (all closed forms) or "search"."""
    reaction, terms = balance.reaction, balance.terms
    line = not _is_zero(balance.f1)
    if balance.constant_torque:
        if balance.rigid:
            return "torque"
        if isinstance(balance.flux, ProportionalFlux) and (
            reaction.absent or isinstance(reaction, ProportionalReaction)
        ):
            return "quadratic"
        return "quadratic" if isinstance(reaction, FluxLoss) and not line else "search"
    terms_known = not terms.functions and (_is_zero(terms.square) or _is_zero(terms.power))
    speed_terms = (terms.proportional, terms.square, terms.power)
    return "speed" if balance.rigid and terms_known and all(np.min(t) >= 0.0 for t in speed_terms) else "search"


def solve_block(setting: Setting, values: dict[str, Any], size: int, places: slice | Array) -> Solved:
    """Solve the points whose checked inputs are in ``values``; ``places`` says which of all points they are."""
    machine = setting.machine
    balance = balance_of(values, machine.connection, setting.behind_line)
    _refuse_no_flux(balance, setting, places)
    fluxless = np.less_equal(balance.f0, balance.flux.zero_flux_field_current)
    plan = "search" if np.all(fluxless) else plan_of(balance)  # a search divides by no flux
    status = np.zeros(size, np.uint8)
    stable: Any = True
    with np.errstate(all="ignore"):
        if plan == "torque":
            failed = _constant_torque(balance, values, status)
        elif plan == "quadratic":
            failed = _quadratic(balance, values, status)
        elif plan == "speed":
            failed = _closed_speed(balance, values, status, size)
        else:
            failed = _search(balance, values, status, size, setting.dtype)
        if np.any(fluxless):
            status[:] = np.where(fluxless, Status.NO_SOLUTION, status)
            failed = True
        solved = {"torque": "torque", "speed": "speed"}.get(plan, "current")
        recipes = recipes_for(machine.connection, behind_line=setting.behind_line, rigid=balance.rigid, solved=solved)
        result = Solved(values, recipes, None, stable, False, False)
        if plan == "search" and failed:  # nobody's load function is asked about the speed of a point that is none
            values["nearest_speed"] = result.quantity("speed")
            values["speed"] = np.where(status >= Status.TORQUE_BEYOND_STALL, 1.0, values["nearest_speed"])
        always_stable = plan in ("torque", "speed") and _is_zero(balance.terms.power)
        flag_solved(balance, result, status, failed=failed, always_stable=always_stable)
    return result


def flag_solved(
    balance: TorqueBalance, result: Solved, status: Array, *, failed: bool = False, always_stable: bool = False
) -> None:
    """Find stability, field loss and points beyond tables of a solved block, and rank them in its status."""
    if not always_stable:
        result.stable = balance.stable(result.quantity("armature_current"), result.quantity("speed"))
    flagged = _flags(balance, result, status)
    if failed or flagged or not np.all(result.stable):
        _rank(result, status)
        result.status = status


def _is_zero(value: Any) -> bool:
    return type(value) is float and value == 0.0


def _refuse_no_flux(balance: TorqueBalance, setting: Setting, places: slice | Array) -> None:
    """Refuse a field current of zero on a curve without remanence."""
    flux = balance.flux
    starts_at_zero = flux.limits is None or flux.limits[0] == 0.0
    if flux.remanent_k_phi > 0.0 or not starts_at_zero or np.min(balance.f0) > 0.0:
        return
    index = None
    if np.ndim(balance.f0) and setting.shape:
        first = int(np.argmin(balance.f0))
        place = places.start + first if isinstance(places, slice) else places[first]
        index = tuple(int(i) for i in np.unravel_index(place, setting.shape))
    name = "supply_voltage" if setting.machine.connection == "shunt" else "field_voltage"
    raise refuse(name, 0.0, "a voltage above zero (without field current this flux curve, which has no remanence,"
                 " has no flux and no steady state)", index)  # fmt: skip


# --- closed forms


def _constant_torque(balance: TorqueBalance, values: dict[str, Any], status: Array) -> bool:
    """The torque is given and the flux does not depend on the current."""
    torque = balance.terms.constant
    k_phi = balance.flux.k_phi_at(balance.f0)
    values["electromagnetic_torque"], values["k_phi"] = torque, k_phi
    values["armature_current"] = formulas.armature_current_from_torque(torque, k_phi)
    return _check_emf(balance, values, status)


def _quadratic(balance: TorqueBalance, values: dict[str, Any], status: Array) -> bool:
    """The torque is given and the flux falls in a straight line with the current."""
    torque, reaction = np.atleast_1d(balance.terms.constant), balance.reaction  # an array, so that no root can raise
    if isinstance(reaction, FluxLoss):
        k_phi = balance.flux.k_phi_at(balance.f0)
        per_ampere = reaction.loss_per_ampere * np.where(np.less(torque, 0.0), -1.0, 1.0)
        current = formulas.armature_current_with_flux_loss(k_phi, per_ampere, torque)
        peak = 0.5 / reaction.loss_per_ampere
    else:
        d = balance.f1 + (reaction.reaction_coefficient if isinstance(reaction, ProportionalReaction) else 0.0)
        constant = balance.flux.slope_at(0.0)
        current = formulas.armature_current_with_reaction(constant, balance.f0, d, torque)
        peak = formulas.peak_armature_current_with_reaction(balance.f0, d)
    beyond = np.isnan(current)
    if np.any(beyond):
        current = np.where(beyond, 0.0, current)
    values["armature_current"] = current
    failed = _check_emf(balance, values, status)
    if np.any(beyond):
        standstill_first = (balance.greatest_current(1.0) < peak) & np.greater(torque, 0.0)
        code = np.where(standstill_first, Status.TORQUE_BEYOND_STALL, Status.TORQUE_BEYOND_REACTION_PEAK)
        status[:] = np.where(beyond, code, status)
        failed = True
    return failed


def _check_emf(balance: TorqueBalance, values: dict[str, Any], status: Array) -> bool:
    """Mark the points at which the current asked for would need the shaft to turn backwards."""
    current = values["armature_current"]
    drop = balance.brush_drop
    net = balance.u0 if _is_zero(drop) else balance.u0 - drop * np.sign(current)
    emf = net - (balance.resistance if _is_zero(balance.u1) else balance.u1 + balance.resistance) * current
    if np.min(emf) >= 0.0:
        values["back_emf"] = emf
        return False
    beyond = emf < -8.0 * np.finfo(np.asarray(emf).dtype).eps * np.abs(balance.u0)
    values["back_emf"] = np.maximum(emf, 0.0)
    status[:] = np.where(beyond, Status.TORQUE_BEYOND_STALL, Status.OK)
    return bool(np.any(beyond))


def _closed_speed(balance: TorqueBalance, values: dict[str, Any], status: Array, size: int) -> bool:
    """The flux does not depend on the current, and the torque is a polynomial of the speed, or has a constant power."""
    terms = balance.terms
    k_phi = np.atleast_1d(balance.flux.k_phi_at(balance.f0))  # an array, so that no root can raise
    values["k_phi"] = k_phi
    sign, rest = _direction(balance, k_phi)
    total = balance.resistance if _is_zero(balance.u1) else balance.u1 + balance.resistance
    voltage = balance.u0 if _is_zero(balance.brush_drop) else balance.u0 - sign * balance.brush_drop
    if _is_zero(terms.power):
        speed = formulas.speed_with_quadratic_torque(
            voltage, k_phi, total, terms.constant, terms.proportional, terms.square
        )
    else:
        speed = formulas.speed_with_constant_power(
            voltage, k_phi, total, terms.constant, terms.proportional, terms.power
        )
    bad = np.isnan(speed) | (speed < 0.0)
    rounding = 8.0 * np.finfo(speed.dtype).eps * np.abs(balance.u0)
    bad &= ~(np.abs(speed) * k_phi <= rounding)  # standstill
    code: Any = Status.TORQUE_BEYOND_STALL
    if not _is_zero(terms.power):
        code = np.where(np.equal(terms.power, 0.0), code, Status.NO_SOLUTION)
        bad |= voltage - terms.constant * total / k_phi < -rounding  # both roots lie behind standstill
    bad &= ~rest  # where the brushes alone take all the voltage it stands still, and nothing is asked for
    if not np.any(bad) and not np.any(rest) and np.min(speed) >= 0.0:
        values["speed"] = speed
        return False
    status[:] = np.where(bad, code, Status.OK)
    at_rest = _rest_speed(balance, k_phi, size) if np.any(rest) else 0.0
    values["speed"] = np.where(rest, at_rest, np.where(bad, 0.0, np.maximum(speed, 0.0))).astype(speed.dtype)
    torque = balance.torque(np.where(bad, 1.0, values["speed"]))
    values["electromagnetic_torque"] = np.where(rest | bad, 0.0, torque).astype(speed.dtype)
    return bool(np.any(bad))


# --- direction of the torque, and no torque


def _direction(balance: TorqueBalance, k_phi: Any) -> tuple[Any, Any]:
    """Sign of the current, and whether no current flows because nothing asks for a torque.

    With a brush drop there is a band of speeds in which neither direction can flow; where the load balances itself inside
    it, no current flows either.
    """
    drop = balance.brush_drop
    middle = balance.torque(balance.u0 / k_phi)
    none = np.equal(middle, 0.0)
    if _is_zero(drop):
        return np.where(np.less(middle, 0.0), -1.0, 1.0), none
    motoring = np.greater(balance.torque(np.maximum(balance.u0 - drop, 0.0) / k_phi), 0.0)
    generating = np.less(balance.torque((balance.u0 + drop) / k_phi), 0.0)
    rest = none | ~(motoring | generating)
    return np.where(motoring, 1.0, np.where(generating, -1.0, 1.0)), rest


def _rest_speed(balance: TorqueBalance, k_phi: Any, size: int) -> Array:
    """Speed without current: U/kPhi, or where the load balances itself within the brush drop's band."""
    middle = np.broadcast_to(balance.u0 / k_phi, size).copy()
    if _is_zero(balance.brush_drop):
        return middle
    off = np.not_equal(balance.torque(middle), 0.0)
    if np.any(off):
        low = np.broadcast_to(np.maximum(balance.u0 - balance.brush_drop, 0.0) / k_phi, size)
        high = np.broadcast_to((balance.u0 + balance.brush_drop) / k_phi, size)
        for _ in range(70):
            centre = 0.5 * (low + high)
            above = balance.torque(centre) > 0.0
            low, high = np.where(above, low, centre), np.where(above, centre, high)
        middle = np.where(off, 0.5 * (low + high), middle)
    return middle


# --- the search


def _search(balance: TorqueBalance, values: dict[str, Any], status: Array, size: int, dtype: Any) -> bool:
    """Anything else: the first root of the torque balance, counted from no load."""

    def spread(value: Any) -> Array:
        return np.broadcast_to(np.asarray(value, dtype), size)

    k_phi = spread(balance.k_phi(np.zeros(size, dtype)))
    fluxless = ~(k_phi > 0.0)
    safe = np.where(fluxless, 1.0, k_phi).astype(dtype)
    sign, rest = _direction(balance, safe)
    sign, rest = spread(sign), np.broadcast_to(rest, size)
    current = np.zeros(size, dtype)
    status[:] = np.where(fluxless, Status.NO_SOLUTION, Status.OK)
    for side in (1.0, -1.0):
        places = np.flatnonzero((sign == side) & ~rest & ~fluxless)
        if places.size == 0:
            continue
        part = balance if places.size == size else balance.take(places)
        residual = Directed(part, side)
        no_load = residual.value(np.zeros(places.size, dtype))
        greatest = np.broadcast_to(np.asarray(part.greatest_current(side), dtype), places.size)
        roots = first_roots(residual, no_load, np.abs(no_load) / k_phi[places], greatest)
        current[places] = side * roots.current
        if not np.all(roots.found):
            status[places] = np.where(roots.found, Status.OK, _why_not(part, roots.peaked, greatest))
    values["armature_current"] = current
    if np.any(rest) and not _is_zero(balance.brush_drop):
        _patch_rest(balance, values, rest, safe, size)
    return bool(np.any(status))


def _why_not(balance: TorqueBalance, peaked: Array, greatest: Array) -> Array:
    """Status of points without a root: which limit it was; a generator has none but the peak."""
    terms = balance.terms
    past_peak = Status.TORQUE_BEYOND_REACTION_PEAK if balance.constant_torque else Status.NO_SOLUTION
    polynomial = not terms.functions and _is_zero(terms.power)
    at_end = Status.TORQUE_BEYOND_STALL if polynomial else Status.NO_SOLUTION
    stalled = np.isfinite(greatest) & ~peaked
    return np.where(peaked, past_peak, np.where(stalled, at_end, Status.NO_SOLUTION)).astype(np.uint8)


def _patch_rest(balance: TorqueBalance, values: dict[str, Any], rest: Array, k_phi: Array, size: int) -> None:
    """Where no current flows, the load sets the speed and the brushes carry whatever voltage is left."""
    at_rest = _rest_speed(balance, k_phi, size)
    current = values["armature_current"]
    net = balance.u0 - np.sign(current) * balance.brush_drop
    emf = net - (balance.u1 + balance.resistance) * current
    values["back_emf"] = np.where(rest, at_rest * k_phi, emf).astype(current.dtype)


# --- warnings


def _flags(balance: TorqueBalance, result: Solved, status: Array) -> bool:
    """Field loss, and points beyond the ends of a table: flagged, or refused where the table refuses."""
    if np.min(balance.f0) == 0.0:
        result.field_loss = np.equal(balance.f0, 0.0)
    refused: Any = False
    current = result.values.get("armature_current", 0.0)
    for owner, coordinate in (
        (balance.flux, balance.curve_current),
        (balance.reaction, balance.reaction.coordinate),
    ):
        if owner.limits is None:
            continue
        low, high = owner.limits
        where = np.asarray(coordinate(current))
        slack = 4.0 * np.finfo(where.dtype).eps * max(abs(low), abs(high))
        outside = (where < low - slack) | (where > high + slack)
        if np.any(outside):
            if owner.extrapolate == "refuse":
                refused = refused | outside
            result.extrapolated = result.extrapolated | outside
    if np.any(refused):
        status[:] = np.where(refused, Status.OUTSIDE_TABLE, status)
    return bool(np.any(result.field_loss) or np.any(result.extrapolated) or np.any(refused))


def _rank(result: Solved, status: Array) -> None:
    """Put the most serious warning of a computed point into its status."""
    computed = status == Status.OK
    for flag, code in (
        (np.logical_not(result.stable), Status.UNSTABLE_ONLY),
        (result.field_loss, Status.FIELD_LOSS),
        (result.extrapolated, Status.EXTRAPOLATED),
    ):
        status[:] = np.where(computed & flag, code, status)
        computed = status == Status.OK
    lost = status >= Status.TORQUE_BEYOND_STALL
    if np.any(lost):
        result.stable = np.where(lost, False, result.stable)
        result.extrapolated = result.extrapolated & ~lost
