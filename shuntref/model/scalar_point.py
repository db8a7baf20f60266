"""One point in plain floats: no arrays, no search, for the machines and loads that have a closed form."""

from __future__ import annotations

from math import inf
from typing import Any

from shuntref.model import formulas as f
from shuntref.model.flux import FluxCurve, ProportionalFlux
from shuntref.model.infeasible import beyond_reaction_peak, beyond_stall, no_power
from shuntref.model.load import LoadTerms, slope_of
from shuntref.model.machine import Machine
from shuntref.model.reaction import ArmatureReaction, FluxLoss, ProportionalReaction
from shuntref.model.recipes import recipes_for
from shuntref.model.result import SteadyState
from shuntref.model.setting import RULES, check_choices, load_of
from shuntref.model.status import Status
from shuntref.model.validation import LEAST, MOST, keeps, refuse, scalar

__all__ = ["scalar_point"]

_EPSILON = 2.220446049250313e-16


def scalar_point(
    machine: Machine, given: dict[str, Any], load: Any, load_torque: Any, names: tuple[str, ...]
) -> SteadyState | None:
    """Solve a single point, or return None where an array is given or no closed form reaches.

    Raises
    ------
    ValueError, InfeasibleError
        As for ``steady_state``.
    """
    values = _floats(given)
    if values is None:
        return None
    check_choices(machine, given)
    terms = _terms(load, load_torque)
    if terms is None:
        return None
    loss = machine.loss_terms
    for name in ("field_resistance", "armature_resistance", "brush_drop", "line_resistance"):
        if name not in values:
            values[name] = getattr(machine, name)
    values["load_terms"], values["loss_terms"] = terms, loss
    flux, reaction = machine.flux, machine.armature_reaction
    values["flux"], values["reaction"] = flux, reaction
    resistance = values["armature_resistance"] + values["added_armature_resistance"]
    field_resistance = values["field_resistance"] + values["added_field_resistance"]
    values["armature_circuit_resistance"], values["field_circuit_resistance"] = resistance, field_resistance
    line = values["line_resistance"]
    behind = bool(line) and "source_voltage" in values
    separate = machine.connection == "separate"
    u1 = f1 = 0.0
    if behind and separate:
        u0, u1, f0 = values["source_voltage"], line, values["field_voltage"] / field_resistance
    elif behind:
        f0, f1 = values["source_voltage"] / (field_resistance + line), line / (field_resistance + line)
        u0, u1 = f0 * field_resistance, f1 * field_resistance
    else:
        u0 = values["source_voltage"] if "source_voltage" in values else values["supply_voltage"]
        values["supply_voltage"] = u0
        if not line:
            values["source_voltage"] = u0
        f0 = (values["field_voltage"] if separate else u0) / field_resistance
        values["field_current"] = f0
    if f0 <= flux.zero_flux_field_current:
        return None  # the general path has the words for it
    circuit = (u0, u1, f0, f1, resistance, values["brush_drop"])
    rigid = f1 == 0.0 and reaction.absent
    solved = "torque"
    if terms.proportional or terms.square or terms.power or loss.proportional or loss.square or loss.power:
        if not rigid or not _speed_point(values, circuit, flux, terms + loss):
            return None
        solved = "speed"
    elif not _torque_point(values, circuit, flux, reaction, terms.constant + loss.constant):
        return None
    status, extrapolated = Status.OK, False
    if flux.limits is not None and not flux.limits[0] <= f0 <= flux.limits[1]:
        if flux.extrapolate == "refuse" or not rigid:
            return None
        status, extrapolated = Status.EXTRAPOLATED, True
    if f0 == 0.0:
        status = Status.FIELD_LOSS
    stable = values.pop("stable")
    if not stable:
        status = Status.UNSTABLE_ONLY
    recipes = recipes_for(machine.connection, behind_line=behind, rigid=rigid, solved=solved)
    return SteadyState(
        values, recipes, names, status=status, stable=stable, field_loss=f0 == 0.0, extrapolated=extrapolated
    )


def _floats(given: dict[str, Any]) -> dict[str, Any] | None:
    """The inputs as checked floats, or None when one of them is an array."""
    values = {}
    for name, value in given.items():
        if value is None:
            continue
        if type(value) is not float:
            if not isinstance(value, (int, float)):
                return None
            value = scalar(name, value, RULES[name])
        if not 0.0 <= value <= MOST or (value < LEAST and not keeps(value, RULES[name])):
            raise refuse(name, value, RULES[name])
        values[name] = value
    return values


def _terms(load: Any, load_torque: Any) -> LoadTerms | None:
    """The load's terms when all of them are floats."""
    if load is None:
        if load_torque is None:
            return LoadTerms()
        if not isinstance(load_torque, (int, float)):
            return None
        return LoadTerms(constant=scalar("load_torque", load_torque, "finite"))
    terms = load_of(load, load_torque)
    if terms.functions or not (
        type(terms.constant) is float
        and type(terms.proportional) is float
        and type(terms.square) is float
        and type(terms.power) is float
    ):
        return None
    return terms


def _torque_point(
    values: dict[str, Any], circuit: tuple[float, ...], flux: FluxCurve, reaction: ArmatureReaction, torque: float
) -> bool:
    """Solve for a torque that does not depend on the speed; False where no closed form reaches."""
    u0, u1, f0, f1, resistance, brush_drop = circuit
    total = resistance + u1
    drop = brush_drop if torque > 0.0 else -brush_drop if torque < 0.0 else 0.0
    stable = True
    if f1 == 0.0 and reaction.absent:
        k_phi = flux.k_phi_at(f0)
        values["k_phi"] = k_phi
        current = torque / k_phi
    else:
        if isinstance(flux, ProportionalFlux) and (reaction.absent or isinstance(reaction, ProportionalReaction)):
            d = f1 + (reaction.reaction_coefficient if isinstance(reaction, ProportionalReaction) else 0.0)
            constant, start = flux.flux_constant, f0
        elif isinstance(reaction, FluxLoss) and f1 == 0.0:
            d = -reaction.loss_per_ampere if torque < 0.0 else reaction.loss_per_ampere
            constant, start = flux.k_phi_at(f0), 1.0
        else:
            return False
        share = torque / constant
        if start * start - 4.0 * d * share < 0.0:  # rounded as in the formula, which takes the root of it
            peak = f.peak_armature_current_with_reaction(start, d)
            standstill = (u0 - drop) / total if total > 0.0 and torque > 0.0 else inf
            if standstill < peak:
                raise beyond_stall(torque, constant * (start - d * standstill) * standstill)
            raise beyond_reaction_peak(torque, f.peak_torque_with_reaction(constant, start, d))
        current = f.armature_current_with_reaction(constant, start, d, torque)
    emf = u0 - drop - current * total
    if emf < 0.0:
        if emf < -8.0 * _EPSILON * u0:
            standstill = max(u0 - drop, 0.0) / total
            field = f0 - f1 * standstill
            raise beyond_stall(torque, reaction.k_phi_at(flux, field, standstill) * standstill)
        emf = 0.0
    if not (f1 == 0.0 and reaction.absent):
        stable = _stable(circuit, flux, reaction, current, emf)
    values["armature_current"], values["electromagnetic_torque"], values["stable"] = current, torque, stable
    if u1 == 0.0:
        values["back_emf"] = emf
    return True


def _speed_point(values: dict[str, Any], circuit: tuple[float, ...], flux: FluxCurve, terms: LoadTerms) -> bool:
    """Solve for a torque that is a polynomial of the speed, or of constant power; False where no closed form reaches."""
    u0, u1, f0, _, own_resistance, brush_drop = circuit
    resistance = own_resistance + u1
    if (terms.square and terms.power) or min(terms.constant, terms.proportional, terms.square, terms.power) < 0.0:
        return False
    k_phi = flux.k_phi_at(f0)
    voltage = u0 - brush_drop
    if voltage <= 0.0:
        return False
    values["k_phi"] = k_phi
    headroom = k_phi * voltage - terms.constant * resistance
    if headroom < 0.0 and not terms.power:
        if headroom < -8.0 * _EPSILON * k_phi * voltage:
            raise beyond_stall(terms.constant, f.stall_torque(voltage, k_phi, resistance))
        values["speed"] = 0.0
    elif not terms.power:
        values["speed"] = f.speed_with_quadratic_torque(
            voltage, k_phi, resistance, terms.constant, terms.proportional, terms.square
        )
    else:
        bend = k_phi * k_phi + terms.proportional * resistance
        if headroom < 0.0 or headroom * headroom < 4.0 * bend * terms.power * resistance:
            raise no_power(terms.power, f.peak_power(voltage, resistance))
        values["speed"] = f.speed_with_constant_power(
            voltage, k_phi, resistance, terms.constant, terms.proportional, terms.power
        )
        if values["speed"] <= 0.0:
            return False
        slope = slope_of(terms, values["speed"])
        values["stable"] = k_phi * k_phi > -slope * resistance
        return True
    values["stable"] = True
    return True


def _stable(
    circuit: tuple[float, ...],
    flux: FluxCurve,
    reaction: ArmatureReaction,
    current: float,
    emf: float,
) -> bool:
    """The stability of ``TorqueBalance.stable`` for one point whose torque is given."""
    _, u1, f0, f1, resistance, _ = circuit
    field = f0 - f1 * current
    k_phi = reaction.k_phi_at(flux, field, current)
    k_slope = reaction.k_phi_slope_at(flux, field, -f1, current)
    falling = resistance + u1 + emf / k_phi * k_slope  # minus k_phi times the slope of the speed
    torque_slope = k_phi + current * k_slope
    return bool(torque_slope > 0.0) if falling >= 0.0 else bool(torque_slope < 0.0)
