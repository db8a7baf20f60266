"""Wrong implementations for losses, temperature, winding and readings: each makes one mistake; see wrong.toml."""

import math

from wrong_sizing import Motor, refuse

# --- losses, powers, temperature


def _losses(m, *, copper=None, left_out=()):
    field = m.supply_voltage / (m.field_resistance + m.added_field_resistance)
    current = m.line_current - field
    sign = (current > 0) - (current < 0)
    drop = current * (m.armature_resistance + m.added_armature_resistance) + m.brush_drop * sign
    refuse(m.supply_voltage < drop)
    parts = {
        "field": field**2 * m.field_resistance,
        "field rheostat": field**2 * m.added_field_resistance,
        "armature": copper(m) if copper else current**2 * m.armature_resistance,
        "armature rheostat": current**2 * m.added_armature_resistance,
        "brush": m.brush_drop * abs(current),
    }
    total = sum(value for name, value in parts.items() if name not in left_out) + m.rotational_loss
    return (*parts.values(), total)


def field_copper_left_out(**given):
    return _losses(Motor(**given), left_out=["field"])


def rheostats_left_out(**given):
    return _losses(Motor(**given), left_out=["field rheostat", "armature rheostat"])


def whole_voltage(**given):
    return _losses(Motor(**given), copper=lambda m: m.supply_voltage**2 / m.armature_resistance)


def _powers(m):
    field = m.supply_voltage / (m.field_resistance + m.added_field_resistance)
    current = m.line_current - field
    emf = m.supply_voltage - current * (m.armature_resistance + m.added_armature_resistance) - m.brush_drop
    refuse(current <= 0 or emf < 0 or emf * current < m.rotational_loss)
    output = emf * current - m.rotational_loss
    return [m.supply_voltage * m.line_current, emf * current, output, output / (m.supply_voltage * m.line_current)]


def output_in_horsepower(**given):
    powers = _powers(Motor(**given))
    powers[2] /= 745.69987158227022
    return powers


def efficiency_in_percent(**given):
    powers = _powers(Motor(**given))
    powers[3] *= 100
    return powers


def _from_no_load(m, kept):
    field = m.supply_voltage / m.field_resistance
    idle, current = m.reference_line_current - field, m.line_current - field
    refuse(idle <= 0 or m.line_current < m.reference_line_current)
    copper = idle**2 * m.armature_resistance + m.brush_drop * idle
    constant, extra = kept(m.supply_voltage * m.reference_line_current, copper, field**2 * m.field_resistance)
    output = m.supply_voltage * m.line_current - constant - extra
    output -= current**2 * m.armature_resistance + m.brush_drop * current
    refuse(output < 0)
    return constant, output, output / (m.supply_voltage * m.line_current)


def idle_copper_kept(**given):
    return _from_no_load(Motor(**given), lambda whole, copper, field: (whole, 0.0))


def field_twice(**given):
    return _from_no_load(Motor(**given), lambda whole, copper, field: (whole - copper, field))


def field_as_rotational(**given):
    m = Motor(**given)
    field = m.supply_voltage / (m.field_resistance + m.added_field_resistance)
    current = m.line_current - field
    refuse(current <= 0 or m.supply_voltage - current * m.armature_resistance - m.brush_drop <= 0)
    loss = m.supply_voltage * m.line_current - current**2 * m.armature_resistance - m.brush_drop * current
    return loss, loss / m.speed


def _warm(m, field_factor, armature_factor):
    field = m.supply_voltage / (field_factor * m.field_resistance + m.added_field_resistance)
    k = m.flux_constant * field
    current = m.load_torque / k
    sign = (current > 0) - (current < 0)
    resistance = armature_factor * m.armature_resistance + m.added_armature_resistance
    emf = m.supply_voltage - current * resistance - m.brush_drop * sign
    refuse(emf < 0)
    return field, emf / k


def _factor(m):
    refuse(m.temperature_constant + min(m.winding_temperature, m.reference_temperature) <= 0)
    return (m.temperature_constant + m.winding_temperature) / (m.temperature_constant + m.reference_temperature)


def cold(**given):
    m = Motor(**given)
    _factor(m)
    return _warm(m, 1.0, 1.0)


def factor_inverted(**given):
    m = Motor(**given)
    return _warm(m, 1 / _factor(m), 1 / _factor(m))


def armature_alone(**given):
    m = Motor(**given)
    return _warm(m, 1.0, _factor(m))


def by_celsius(**given):
    m = Motor(**given)
    _factor(m)
    ratio = m.winding_temperature / m.reference_temperature
    return _warm(m, ratio, ratio)


# --- winding and readings


def pole_pairs(poles, parallel_paths, conductors, flux_per_pole, speed):
    return _winding(poles / 2, parallel_paths, conductors, flux_per_pole, speed, poles)


def paths_forgotten(poles, parallel_paths, conductors, flux_per_pole, speed):
    return _winding(poles, 1, conductors, flux_per_pole, speed, poles, parallel_paths)


def _winding(poles, paths, conductors, flux, speed, *even):
    refuse(
        any(n < 2 or n % 2 for n in even) or conductors < 1 or conductors != int(conductors) or flux <= 0 or speed < 0
    )
    k = poles * conductors * flux / (2 * math.pi * paths)
    return k, k * speed


def _readings(currents, voltages):
    refuse(len(currents) != len(voltages) or len(currents) < 2 or min(currents) == max(currents))
    refuse(min(*currents, *voltages) <= 0)
    return sum(currents) / len(currents), sum(voltages) / len(voltages)


def through_origin(armature_current, supply_voltage):
    _readings(armature_current, supply_voltage)
    pairs = list(zip(armature_current, supply_voltage, strict=True))
    return sum(i * u for i, u in pairs) / sum(i * i for i, _ in pairs), 0.0


def end_readings(armature_current, supply_voltage):
    _readings(armature_current, supply_voltage)
    slope = (supply_voltage[-1] - supply_voltage[0]) / (armature_current[-1] - armature_current[0])
    return slope, supply_voltage[0] - slope * armature_current[0]


def axes_exchanged(armature_current, supply_voltage):
    i0, u0 = _readings(armature_current, supply_voltage)
    pairs = [(i - i0, u - u0) for i, u in zip(armature_current, supply_voltage, strict=True)]
    slope = sum(u * u for _, u in pairs) / sum(i * u for i, u in pairs)
    return slope, u0 - slope * i0


def mean_of_ratios(field_current, speed, back_emf):
    refuse(not len(field_current) == len(speed) == len(back_emf) or not field_current)
    refuse(min(*field_current, *speed, *back_emf) <= 0)
    return sum(e / (i * w) for i, w, e in zip(field_current, speed, back_emf, strict=True)) / len(speed)


def wrong_way_round(added_field_resistance, speed):
    refuse(len(speed) != 2 or len(added_field_resistance) != 2 or min(speed) <= 0 or speed[0] == speed[1])
    (r1, r2), (n1, n2) = added_field_resistance, speed
    refuse(min(r1, r2) < 0 or (n1 * r2 - n2 * r1) / (n2 - n1) <= 0)
    return (n2 * r2 - n1 * r1) / (n2 - n1)


def unweakened_peak(supply_voltage, field_resistance, flux_constant, reaction_coefficient, added_field_resistance=0.0):
    refuse(
        min(supply_voltage, field_resistance, flux_constant, reaction_coefficient) <= 0 or added_field_resistance < 0
    )
    field = supply_voltage / (field_resistance + added_field_resistance)
    return flux_constant * field * field / (2 * reaction_coefficient)
