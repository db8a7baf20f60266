"""Balances that the second evaluator solves: speed, currents, resistances to add, starting. Decimal arithmetic alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from itertools import pairwise
from typing import Any

from shuntref.conformance.bisection import peak, pi, root, upper_end

__all__ = [
    "ZERO",
    "Answer",
    "Numbers",
    "added_armature",
    "added_field",
    "added_field_no_load",
    "added_from_reading",
    "back_emf",
    "count_sections",
    "current_at",
    "currents_for",
    "emf_behind",
    "field_current",
    "flux_curve",
    "from_speed",
    "from_winding",
    "grading",
    "ideal_speed",
    "read_line_current",
    "regulation",
    "speed_behind_line",
    "speed_for",
    "speed_steady",
    "square_load",
    "stall",
    "starting",
    "torque_of",
    "torque_read",
]

Numbers = Mapping[str, Any]
Answer = dict[str, Any]
Flux = Callable[[Decimal], Decimal]

ZERO = Decimal(0)


def current_at(given: Numbers, volts: Decimal, k_phi: Decimal, speed: Decimal) -> Decimal:
    """Armature current at a speed: none where the brushes block both directions."""
    resistance: Decimal = given["armature_resistance"] + given.get("added_armature_resistance", ZERO)
    surplus = volts - k_phi * speed
    drop = given.get("brush_drop", ZERO)
    if abs(surplus) <= drop:
        return ZERO
    left: Decimal = surplus - drop if surplus > 0 else surplus + drop
    return left / resistance


def torque_of(given: Numbers) -> Decimal:
    """The torque on the armature: load and loss together."""
    return Decimal(given["load_torque"] + given.get("loss_torque", ZERO))


def speed_for(given: Numbers, volts: Decimal, k_phi: Decimal, torque: Decimal) -> Decimal:
    """Speed at which the torque developed is the torque wanted; without torque no current flows."""
    if torque == 0:
        return volts / k_phi

    def surplus(speed: Decimal) -> Decimal:
        return k_phi * current_at(given, volts, k_phi, speed) - torque

    return root(surplus, ZERO, upper_end(surplus, 2 * volts / k_phi))


def field_current(given: Numbers, volts: Decimal) -> Decimal:
    """Field current at which the drops in winding and rheostat make up the voltage."""
    resistance: Decimal = given["field_resistance"] + given.get("added_field_resistance", ZERO)
    return volts / resistance


def flux_curve(given: Numbers) -> Flux:
    """The flux curve that the inputs speak of."""
    if "flux_constant" in given:
        return lambda current: Decimal(given["flux_constant"] * current)
    if "froehlich_a" in given:
        a, b, remanent = given["froehlich_a"], given["froehlich_b"], given.get("remanent_k_phi", ZERO)
        return lambda current: Decimal(remanent + a * current / (b + current))
    points = list(zip(given["table_field_current"], given["table_back_emf"], strict=True))

    def on_the_lines(current: Decimal) -> Decimal:
        for (x0, y0), (x1, y1) in pairwise(points):
            if x0 <= current <= x1:
                share = (current - x0) / (x1 - x0)
                return Decimal((y0 * (1 - share) + y1 * share) / given["table_speed"])
        raise ValueError("the field current lies off the table")

    return on_the_lines


def speed_steady(given: Numbers) -> Answer:
    """Flux and speed at a load torque."""
    volts = given["supply_voltage"]
    k_phi = (
        given["k_phi"]
        if "k_phi" in given
        else flux_curve(given)(field_current(given, given.get("field_voltage", volts)))
    )
    return {"k_phi": k_phi, "speed": speed_for(given, volts, k_phi, torque_of(given))}


def speed_behind_line(given: Numbers) -> Answer:
    """Speed where line resistance lies ahead of both circuits: the terminal voltage is looked for."""
    source, line, torque, flux = given["source_voltage"], given["line_resistance"], torque_of(given), flux_curve(given)

    def drawn(volts: Decimal) -> Decimal:
        field = field_current(given, volts)
        return field + torque / flux(field)

    def excess(volts: Decimal) -> Decimal:
        return Decimal(volts + line * drawn(volts) - source)

    # with a motoring torque the excess falls and rises again: the operating point is on the rising side
    low = source / 10**9
    if torque > 0 and line > 0:
        low = peak(lambda volts: -excess(volts), low, source)
    high = source
    while excess(high) < 0:
        high *= 2
    volts = root(excess, low, high)
    k_phi = flux(field_current(given, volts))
    return {
        "supply_voltage": volts,
        "line_current": drawn(volts),
        "speed": speed_for(given, volts, k_phi, torque),
    }


def ideal_speed(given: Numbers) -> Answer:
    """Speed without torque."""
    volts = given["supply_voltage"]
    return {"ideal_no_load_speed": volts / flux_curve(given)(field_current(given, volts))}


def regulation(given: Numbers) -> Answer:
    """Speed regulation: no load against full load, as a share of the latter."""
    free, loaded = ideal_speed(given)["ideal_no_load_speed"], speed_steady(given)["speed"]
    return {"speed_regulation": free / loaded - 1}


def square_load(given: Numbers) -> Answer:
    """Speed with a load that goes as the square of the speed."""
    k_phi, volts = given["k_phi"], given["supply_voltage"]
    constant = given.get("loss_torque", ZERO)

    def surplus(speed: Decimal) -> Decimal:
        wanted = given["load_torque"] * (speed / given["reference_speed"]) ** 2 + constant
        return Decimal(k_phi * current_at(given, volts, k_phi, speed) - wanted)

    return {"speed": root(surplus, ZERO, volts / k_phi)}


def currents_for(given: Numbers) -> Answer:
    """Field, armature and line current at a load torque."""
    field = field_current(given, given["supply_voltage"])
    k_phi, torque = flux_curve(given)(field), torque_of(given)
    reach = 1 + 2 * abs(torque) / k_phi
    armature = root(lambda current: k_phi * current - torque, -reach, reach) if torque else ZERO
    return {"field_current": field, "armature_current": armature, "line_current": field + armature}


def from_speed(given: Numbers) -> Answer:
    """Armature current and torque at a speed."""
    current = current_at(given, given["supply_voltage"], given["k_phi"], given["speed"])
    return {"armature_current": current, "electromagnetic_torque": given["k_phi"] * current}


def emf_behind(given: Numbers, volts: Decimal, armature: Decimal) -> Decimal:
    """What is left of the voltage after the drops that oppose the current."""
    drop = given.get("brush_drop", ZERO)
    resistance: Decimal = given["armature_resistance"] + given.get("added_armature_resistance", ZERO)
    left = volts - armature * resistance
    return Decimal(left if armature == 0 else left - drop if armature > 0 else left + drop)


def read_line_current(given: Numbers) -> tuple[Decimal, Decimal, Decimal]:
    """Field current, armature current and back EMF from the line current."""
    volts = given["supply_voltage"]
    field = field_current(given, volts)
    armature = given["line_current"] - field
    return field, armature, emf_behind(given, volts, armature)


def back_emf(given: Numbers) -> Answer:
    """Back EMF at a line current."""
    return {"back_emf": read_line_current(given)[2]}


def from_winding(given: Numbers) -> Answer:
    # one turn of the shaft: every conductor of a path cuts the flux of all poles
    """Machine constant and back EMF from the data of the winding."""
    per_turn = given["poles"] * given["flux_per_pole"] * given["conductors"] / given["parallel_paths"]
    turns_per_second = given["speed"] / (2 * pi())
    return {"k_phi": per_turn / (2 * pi()), "back_emf": per_turn * turns_per_second}


def torque_read(given: Numbers) -> Answer:
    """Torque developed and torque at the shaft from what the meters read."""
    _, armature, emf = read_line_current(given)
    developed = emf * armature
    shaft = developed - given.get("rotational_loss", ZERO)
    return {"electromagnetic_torque": developed / given["speed"], "load_torque": shaft / given["speed"]}


def stall(given: Numbers) -> Answer:
    """Torque at standstill."""
    volts = given["supply_voltage"]
    k_phi = flux_curve(given)(field_current(given, volts))
    current = root(
        lambda amperes: emf_behind(given, volts, amperes), Decimal("1e-70"), 2 * volts / given["armature_resistance"]
    )
    return {"stall_torque": k_phi * current}


def _flux_for_speed(given: Numbers, speed: Decimal) -> Decimal:
    """Flux, the larger of two, at which the voltages balance at the wanted speed and torque."""
    volts, torque = given["supply_voltage"], torque_of(given)
    if torque == 0:
        return Decimal(volts / speed)

    def excess(k_phi: Decimal) -> Decimal:
        return k_phi * speed - emf_behind(given, volts, torque / k_phi)

    high = 2 * volts / speed
    while excess(high) < 0:
        high *= 2
    low = peak(lambda k_phi: -excess(k_phi), high / 10**6, high) if torque > 0 else high / 10**9
    return root(excess, low, high)


def added_field(given: Numbers) -> Answer:
    """Resistance to add to the field circuit for a speed."""
    k_phi = _flux_for_speed(given, given["speed"])
    flux = flux_curve(given)
    if "table_field_current" in given:
        low, high = given["table_field_current"][0], given["table_field_current"][-1]
    else:
        low, high = Decimal("1e-60"), Decimal(1)
        while flux(high) < k_phi:
            high *= 2
    field = root(lambda current: flux(current) - k_phi, low, high)
    return {"added_field_resistance": given["supply_voltage"] / field - given["field_resistance"]}


def added_field_no_load(given: Numbers) -> Answer:
    """Resistance to add to the field circuit for a speed without load, from one reading."""
    winding, before, after = given["field_resistance"], given["reference_speed"], given["speed"]
    high = 2 * winding * after / before
    # the flux constant from the reading, then the resistance that gives the wanted speed
    constant = winding / before
    return {"added_field_resistance": root(lambda added: (winding + added) / constant - after, ZERO, high)}


def _drop_balance(given: Numbers, volts: Decimal, k_phi: Decimal, current: Decimal, speed: Decimal) -> Decimal:
    """Resistance to add so that the armature circuit takes this current at this speed."""

    def excess(added: Decimal) -> Decimal:
        return emf_behind({**given, "added_armature_resistance": added}, volts, current) - k_phi * speed

    return root(excess, ZERO, upper_end(excess, given["armature_resistance"]))


def added_armature(given: Numbers) -> Answer:
    """Resistance to add to the armature circuit for a speed."""
    volts = given["supply_voltage"]
    k_phi = flux_curve(given)(field_current(given, volts))
    return {"added_armature_resistance": _drop_balance(given, volts, k_phi, torque_of(given) / k_phi, given["speed"])}


def added_from_reading(given: Numbers) -> Answer:
    """Resistance to add to the armature circuit for a speed, from a reading at another."""
    volts = given["supply_voltage"]
    before = given["reference_line_current"] - field_current(given, volts)
    k_phi = emf_behind(given, volts, before) / given["reference_speed"]
    current = given.get("torque_ratio", Decimal(1)) * before
    return {"added_armature_resistance": _drop_balance(given, volts, k_phi, current, given["speed"])}


def starting(given: Numbers) -> Answer:
    """Resistance that keeps the starting current to a limit."""

    def excess(added: Decimal) -> Decimal:
        return emf_behind(
            {**given, "added_armature_resistance": added}, given["supply_voltage"], given["starting_current"]
        )

    if excess(ZERO) == 0:
        return {"starting_resistance": ZERO}
    return {"starting_resistance": root(excess, ZERO, upper_end(excess, given["armature_resistance"]))}


def _studs(volts: Decimal, upper: Decimal, lower: Decimal, count: int) -> list[Decimal]:
    """Circuit resistances stud by stud: the current falls to the lower limit, the next stud lets in the upper one."""
    circuit = [volts / upper]
    for _ in range(count):
        emf = volts - lower * circuit[-1]
        circuit.append((volts - emf) / upper)
    return circuit


def grading(given: Numbers) -> Answer:
    """Sections of a starter of a given number of them, graded between two currents."""
    volts, upper, count = given["supply_voltage"], given["upper_current"], int(given["sections"])
    own = given["armature_resistance"]
    lower = root(lambda amperes: _studs(volts, upper, amperes, count)[-1] - own, ZERO, upper)
    circuit = _studs(volts, upper, lower, count)
    sections = [a - b for a, b in pairwise(circuit)]
    return {"current_ratio": upper / lower, "lower_current": lower, "section_resistance": sections}


def count_sections(given: Numbers) -> Answer:
    """Number of sections that a starter needs between two currents."""
    count = 0
    while _studs(given["supply_voltage"], given["upper_current"], given["lower_current"], count)[-1] > (
        given["armature_resistance"] * (1 + Decimal("1e-50"))
    ):
        count += 1
    return {"sections": Decimal(count)}
