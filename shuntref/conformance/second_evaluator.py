"""A second evaluator of the certified cases, which shares no code with the theory layer or the model.

It has nothing but decimal arithmetic and halving of intervals. The balance equations are left unreduced: a speed is
sought at which the torque developed is the torque wanted, a flux at which the voltages balance, a lower current with
which a starter comes out at the armature resistance, and so on. Where it and the generator agree to twenty digits,
neither a slip of algebra nor one of typing is left in either.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal, localcontext
from typing import Any

from shuntref.conformance.bisection import ARITHMETIC, peak, root, upper_end
from shuntref.conformance.second_balances import (
    ZERO,
    Answer,
    Numbers,
    added_armature,
    added_field,
    added_field_no_load,
    added_from_reading,
    back_emf,
    count_sections,
    current_at,
    currents_for,
    emf_behind,
    field_current,
    flux_curve,
    from_speed,
    from_winding,
    grading,
    ideal_speed,
    read_line_current,
    regulation,
    speed_behind_line,
    speed_for,
    speed_steady,
    square_load,
    stall,
    starting,
    torque_of,
    torque_read,
)

__all__ = ["FUNCTIONS", "evaluate"]


def _second_state(given: Numbers, before: Decimal, emf: Decimal, flux_ratio: Decimal) -> Answer:
    k_phi = emf / given.get("reference_speed", Decimal(1))
    torque = k_phi * before * given.get("torque_ratio", Decimal(1))
    weaker = k_phi * flux_ratio
    speed = speed_for(given, given["supply_voltage"], weaker, torque)
    return {"armature_current": torque / weaker, "speed": speed}


def _after_change(given: Numbers) -> Answer:
    volts = given["supply_voltage"]
    first = {n: v for n, v in given.items() if not n.startswith("added_")}
    before = given["reference_line_current"] - field_current(first, volts)
    return _second_state(
        given, before, emf_behind(first, volts, before), field_current(given, volts) / field_current(first, volts)
    )


def _after_voltage(given: Numbers) -> Answer:
    old = given["reference_supply_voltage"]
    before = given["reference_line_current"] - field_current(given, old)
    ratio = field_current(given, given["supply_voltage"]) / field_current(given, old)
    return _second_state(given, before, emf_behind(given, old, before), ratio)


def _after_flux(given: Numbers) -> Answer:
    before = given["reference_armature_current"]
    return _second_state(given, before, emf_behind(given, given["supply_voltage"], before), given["flux_ratio"])


def _at_the_moment(given: Numbers) -> Answer:
    before, ratio = given["reference_armature_current"], given["flux_ratio"]
    emf = emf_behind(given, given["supply_voltage"], before) * ratio
    current = current_at(given, given["supply_voltage"], emf, Decimal(1))
    return {"armature_current": current, "torque_ratio": ratio * current / before}


def _with_reaction(given: Numbers) -> Answer:
    volts, torque = given["supply_voltage"], torque_of(given)
    field, strength, reaction = field_current(given, volts), given["flux_constant"], given["reaction_coefficient"]

    def developed(current: Decimal) -> Decimal:
        return Decimal(strength * (field - reaction * current) * current)

    if torque == 0:
        current = ZERO
    elif torque > 0:
        top = peak(developed, ZERO, field / reaction)
        current = root(lambda amperes: developed(amperes) - torque, ZERO, top)
    else:
        current = -root(lambda amperes: torque - developed(-amperes), ZERO, -2 * torque / (strength * field))
    k_phi = strength * (field - reaction * current)
    reach = 2 * abs(emf_behind(given, volts, current)) / k_phi + 1
    speed = root(lambda omega: k_phi * omega - emf_behind(given, volts, current), ZERO, reach)
    return {"armature_current": current, "speed": speed}


def _largest_torque(given: Numbers) -> Answer:
    field, reaction = field_current(given, given["supply_voltage"]), given["reaction_coefficient"]

    def developed(current: Decimal) -> Decimal:
        return Decimal(given["flux_constant"] * (field - reaction * current) * current)

    return {"electromagnetic_torque": developed(peak(developed, ZERO, field / reaction))}


def _with_mmf(given: Numbers) -> Answer:
    field, _, emf = read_line_current(given)
    ampere_turns = field * given["field_turns"] - given["demagnetising_mmf"]
    effective = ampere_turns / given["field_turns"]
    k_phi = flux_curve(given)(effective)
    return {"effective_field_current": effective, "speed": emf / k_phi}


def _losses(given: Numbers) -> Answer:
    field, armature, emf = read_line_current(given)
    across = field * given.get("added_field_resistance", ZERO)
    volts = given["supply_voltage"]
    answer = {
        "field_copper_loss": (volts - across) * field,
        "added_field_loss": across * field,
        "armature_copper_loss": armature * armature * given["armature_resistance"],
        "added_armature_loss": armature * armature * given.get("added_armature_resistance", ZERO),
        "brush_loss": given.get("brush_drop", ZERO) * abs(armature),
    }
    # all that is drawn and does not come out at the shaft
    answer["total_loss"] = volts * given["line_current"] - (emf * armature - given["rotational_loss"])
    return answer


def _efficiency(given: Numbers) -> Answer:
    _, armature, emf = read_line_current(given)
    drawn, developed = given["supply_voltage"] * given["line_current"], emf * armature
    shaft = developed - given["rotational_loss"]
    return {
        "input_power": drawn,
        "electromagnetic_power": developed,
        "output_power": shaft,
        "efficiency": shaft / drawn,
    }


def _from_test(given: Numbers) -> Answer:
    volts = given["supply_voltage"]
    field = field_current(given, volts)

    def developed(line: Decimal) -> Decimal:
        return (line - field) * emf_behind(given, volts, line - field)

    rotational = developed(given["reference_line_current"])
    shaft = developed(given["line_current"]) - rotational
    return {
        "constant_loss": rotational + volts * field,
        "output_power": shaft,
        "efficiency": shaft / (volts * given["line_current"]),
    }


def _warm(given: Numbers) -> Answer:
    # a straight line through zero resistance at minus the temperature constant
    zero = -given.get("temperature_constant", Decimal(235))
    rise = (given["winding_temperature"] - zero) / (given["reference_temperature"] - zero)
    hot = {**given, **{n: given[n] * rise for n in ("field_resistance", "armature_resistance")}}
    return {"field_current": field_current(hot, hot["supply_voltage"]), "speed": speed_steady(hot)["speed"]}


def _volt_ampere(given: Numbers) -> Answer:
    amperes, volts = given["armature_current"], given["supply_voltage"]
    mean_x, mean_y = sum(amperes) / len(amperes), sum(volts) / len(volts)
    spread = sum((x - mean_x) ** 2 for x in amperes)
    slope = sum((x - mean_x) * (y - mean_y) for x, y in zip(amperes, volts, strict=True)) / spread
    return {"armature_resistance": slope, "brush_drop": mean_y - slope * mean_x}


def _flux_constant(given: Numbers) -> Answer:
    readings = list(zip(given["field_current"], given["speed"], given["back_emf"], strict=True))

    def slope(constant: Decimal) -> Decimal:
        return Decimal(sum((constant * i * w - e) * i * w for i, w, e in readings))

    return {"flux_constant": root(slope, ZERO, upper_end(slope, Decimal(1)))}


def _froehlich(given: Numbers) -> Answer:
    (x0, x1), (y0, y1) = given["field_current"], given["k_phi"]
    remanent = given.get("remanent_k_phi", ZERO)

    def gain(half: Decimal) -> Decimal:
        return Decimal((y0 - remanent) * (half + x0) / x0)

    def miss(half: Decimal) -> Decimal:
        return Decimal(remanent + gain(half) * x1 / (half + x1) - y1)

    half = root(miss, ZERO, upper_end(miss, Decimal(1)))
    return {"froehlich_a": gain(half), "froehlich_b": half}


def _two_speeds(given: Numbers) -> Answer:
    (r0, r1), (w0, w1) = given["added_field_resistance"], given["speed"]

    def miss(winding: Decimal) -> Decimal:
        return Decimal((winding + r0) * w1 - (winding + r1) * w0)

    return {"field_resistance": root(miss, ZERO, upper_end(miss, Decimal(1)))}


def _light(given: Numbers) -> Answer:
    _, armature, emf = read_line_current(given)
    return {"rotational_loss": emf * armature, "loss_torque": emf * armature / given["speed"]}


FUNCTIONS: Mapping[str, Callable[[Numbers], Answer]] = {
    "speed": speed_steady,
    "speed_at_k_phi": speed_steady,
    "speed_separately_excited": speed_steady,
    "speed_with_line_resistance": speed_behind_line,
    "ideal_no_load_speed": ideal_speed,
    "speed_regulation": regulation,
    "speed_with_square_torque": square_load,
    "currents": currents_for,
    "armature_current_from_speed": from_speed,
    "back_emf": back_emf,
    "back_emf_from_winding": from_winding,
    "torque_from_line_current": torque_read,
    "stall_torque": stall,
    "added_field_resistance_for_speed": added_field,
    "added_field_resistance_at_no_load": added_field_no_load,
    "added_armature_resistance_for_speed": added_armature,
    "added_armature_resistance_from_reading": added_from_reading,
    "starting_resistance": starting,
    "starter_grading": grading,
    "starter_sections": count_sections,
    "speed_after_change": _after_change,
    "speed_after_voltage_change": _after_voltage,
    "speed_after_flux_change": _after_flux,
    "momentary_armature_current": _at_the_moment,
    "speed_with_table": speed_steady,
    "added_field_resistance_with_table": added_field,
    "speed_with_froehlich": speed_steady,
    "added_field_resistance_with_froehlich": added_field,
    "speed_with_armature_reaction": _with_reaction,
    "largest_torque_with_armature_reaction": _largest_torque,
    "speed_with_demagnetising_mmf": _with_mmf,
    "losses": _losses,
    "efficiency": _efficiency,
    "efficiency_from_no_load_test": _from_test,
    "speed_with_warm_windings": _warm,
    "armature_resistance_and_brush_drop": _volt_ampere,
    "flux_constant_from_readings": _flux_constant,
    "froehlich_from_two_points": _froehlich,
    "field_resistance_from_two_speeds": _two_speeds,
    "rotational_loss_from_no_load": _light,
}


def evaluate(function: str, inputs: Mapping[str, float | Sequence[float]]) -> dict[str, Any]:
    """Return the answer of a function in decimal arithmetic, the inputs taken as the short decimals they are.

    Raises
    ------
    ValueError
        When no solution is found.

    Examples
    --------
    >>> answer = evaluate("speed_at_k_phi", {"supply_voltage": 120.0, "k_phi": 0.75, "armature_resistance": 0.8,
    ...                                      "load_torque": 7.5})
    >>> str(answer["speed"])[:27]
    '149.33333333333333333333333'
    """
    with localcontext(ARITHMETIC):
        given = {
            name: [Decimal(repr(v)) for v in value] if isinstance(value, (list, tuple)) else Decimal(repr(value))
            for name, value in inputs.items()
        }
        return FUNCTIONS[function](given)
