"""Wrong implementations for wanted states, starting and two states: each function makes one mistake; see wrong.toml."""

import math


class Motor:
    """Given quantities by name; what no motor can have is refused, what is left out is none."""

    def __init__(self, **given):
        self.__dict__.update(given)
        for name, value in given.items():
            values = value if isinstance(value, list) else [value]
            least = 0.0 if name.startswith(("added", "brush", "loss", "rotational", "remanent")) else 1e-12
            least = -math.inf if name.endswith(("temperature", "load_torque", "line_current")) else least
            if not all(math.isfinite(v) and v >= least for v in values):
                raise ValueError(f"{name} = {value}: no motor has that")

    def __getattr__(self, name):
        if name in ("torque_ratio",):
            return 1.0
        if name == "temperature_constant":
            return 235.0
        if name.startswith(("added", "brush", "loss", "rotational", "remanent")):
            return 0.0
        raise AttributeError(name)


def refuse(condition):
    if condition:
        raise ValueError("no motor does that")


# --- added resistances


def _k_phi(m, root=1):
    sign = (m.load_torque + m.loss_torque > 0) - (m.load_torque + m.loss_torque < 0)
    u = m.supply_voltage - m.brush_drop * sign
    r = m.armature_resistance + m.added_armature_resistance
    discriminant = u * u - 4 * m.speed * r * (m.load_torque + m.loss_torque)
    refuse(discriminant < 0)
    return (u + root * math.sqrt(discriminant)) / (2 * m.speed)


def total_field(**given):
    m = Motor(**given)
    total = m.supply_voltage * m.flux_constant / _k_phi(m)
    refuse(total < m.field_resistance)
    return total


def other_root(**given):
    m = Motor(**given)
    k = _k_phi(m, -1)
    refuse(k <= 0)
    added = m.supply_voltage * m.flux_constant / k - m.field_resistance
    refuse(added < 0)
    refuse(m.supply_voltage * m.flux_constant / _k_phi(m) < m.field_resistance)
    return added


def proportional_to_field(field_resistance, reference_speed, speed):
    Motor(field_resistance=field_resistance, reference_speed=reference_speed, speed=speed)
    refuse(speed < reference_speed)
    return field_resistance * reference_speed / speed - field_resistance


def starting_total(supply_voltage, armature_resistance, starting_current, brush_drop=0.0):
    Motor(supply_voltage=supply_voltage, armature_resistance=armature_resistance, starting_current=starting_current,
          brush_drop=brush_drop)  # fmt: skip
    total = (supply_voltage - brush_drop) / starting_current
    refuse(total < armature_resistance)
    return total


# --- starters


def _grading(supply_voltage, armature_resistance, upper_current, sections, root, section):
    Motor(supply_voltage=supply_voltage, armature_resistance=armature_resistance, upper_current=upper_current)
    first = supply_voltage / upper_current
    refuse(sections < 1 or sections != int(sections) or first <= armature_resistance)
    ratio = (first / armature_resistance) ** (1 / root(sections))
    on_stud = [first / ratio**i for i in range(int(sections) + 1)]
    return ratio, upper_current / ratio, [section(on_stud, i) for i in range(int(sections))]


def studs_as_sections(**given):
    return _grading(**given, root=lambda n: n + 1, section=lambda r, i: r[i] - r[i + 1])


def sections_as_studs(**given):
    return _grading(**given, root=lambda n: n - 1 or 1, section=lambda r, i: r[i] - r[i + 1])


def whole_circuit(**given):
    return _grading(**given, root=lambda n: n, section=lambda r, i: r[i])


def equal_sections(**given):
    return _grading(**given, root=lambda n: n, section=lambda r, i: (r[0] - r[-1]) / (len(r) - 1))


def rounded_down(supply_voltage, armature_resistance, upper_current, lower_current):
    Motor(supply_voltage=supply_voltage, armature_resistance=armature_resistance, upper_current=upper_current,
          lower_current=lower_current)  # fmt: skip
    first = supply_voltage / upper_current
    refuse(lower_current >= upper_current or first <= armature_resistance)
    return math.floor(math.log(first / armature_resistance) / math.log(upper_current / lower_current) + 1e-9)


# --- two states


def _after(m, *, torque=lambda t: t, ratio=None, current=None):
    reference_field = m.supply_voltage / m.field_resistance
    before = m.reference_line_current - reference_field
    refuse(before <= 0)
    emf_before = m.supply_voltage - before * m.armature_resistance - m.brush_drop
    refuse(emf_before <= 0)
    flux = ratio(m) if ratio else m.field_resistance / (m.field_resistance + m.added_field_resistance)
    after = current(m, before) if current else torque(m.torque_ratio) * before / flux
    emf = m.supply_voltage - after * (m.armature_resistance + m.added_armature_resistance) - m.brush_drop
    refuse(emf < 0)
    return after, m.reference_speed * emf / emf_before / flux


def torque_ratio_ignored(**given):
    return _after(Motor(**given), torque=lambda t: 1.0)


def torque_ratio_inverted(**given):
    return _after(Motor(**given), torque=lambda t: 1 / t)


def current_kept(**given):
    return _after(Motor(**given), current=lambda m, before: m.torque_ratio * before)


def line_current_as_reference(**given):
    m = Motor(**given)
    m.reference_line_current += m.supply_voltage / m.field_resistance
    return _after(m)


def _flux_change(m, flux):
    emf_before = m.supply_voltage - m.reference_armature_current * m.armature_resistance - m.brush_drop
    refuse(emf_before <= 0)
    after = m.torque_ratio * m.reference_armature_current / flux
    emf = m.supply_voltage - after * m.armature_resistance - m.brush_drop
    refuse(emf < 0)
    return after, m.reference_speed * emf / emf_before / flux


def flux_ratio_inverted(**given):
    m = Motor(**given)
    return _flux_change(m, 1 / m.flux_ratio)


def settled_current(**given):
    m = Motor(**given)
    refuse(m.supply_voltage <= m.reference_armature_current * m.armature_resistance + m.brush_drop)
    current = m.reference_armature_current / m.flux_ratio
    return current, m.flux_ratio * current / m.reference_armature_current


def emf_kept(**given):
    m = Motor(**given)
    refuse(m.supply_voltage <= m.reference_armature_current * m.armature_resistance + m.brush_drop)
    return m.reference_armature_current, m.flux_ratio
