"""Powers, losses and efficiency: pure arithmetic, one law to a function."""

from __future__ import annotations

from shuntref.model.circuit_formulas import Value

__all__ = [
    "added_armature_loss",
    "added_field_loss",
    "armature_copper_loss",
    "brush_loss",
    "efficiency_generating",
    "efficiency_motoring",
    "electromagnetic_power",
    "field_copper_loss",
    "input_power_separate",
    "input_power_shunt",
    "line_loss",
    "output_power",
    "rotational_loss",
    "total_loss",
]


def input_power_shunt(source_voltage: Value, line_current: Value) -> Value:
    """P_in = U_s I, field included."""
    return source_voltage * line_current


def input_power_separate(
    source_voltage: Value, armature_current: Value, field_voltage: Value, field_current: Value
) -> Value:
    """P_in = U_s I_a + U_f I_f: two sources."""
    return source_voltage * armature_current + field_voltage * field_current


def field_copper_loss(field_current: Value, field_resistance: Value) -> Value:
    """P_f = I_f^2 R_f."""
    return field_current * field_current * field_resistance


def added_field_loss(field_current: Value, added_field_resistance: Value) -> Value:
    """P_fx = I_f^2 R_fx."""
    return field_current * field_current * added_field_resistance


def armature_copper_loss(armature_current: Value, armature_resistance: Value) -> Value:
    """P_a = I_a^2 R_a."""
    return armature_current * armature_current * armature_resistance


def added_armature_loss(armature_current: Value, added_armature_resistance: Value) -> Value:
    """P_ax = I_a^2 R_ax."""
    return armature_current * armature_current * added_armature_resistance


def brush_loss(brush_drop: Value, armature_current: Value) -> Value:
    """P_b = U_b I_a; pass the brush drop with the sign of the current."""
    return brush_drop * armature_current


def line_loss(line_current: Value, line_resistance: Value) -> Value:
    """P_l = I^2 R_l."""
    return line_current * line_current * line_resistance


def electromagnetic_power(back_emf: Value, armature_current: Value) -> Value:
    """P_e = E I_a."""
    return back_emf * armature_current


def rotational_loss(loss_torque: Value, speed: Value) -> Value:
    """P_0 = T_0 omega."""
    return loss_torque * speed


def output_power(load_torque: Value, speed: Value) -> Value:
    """P_out = T_L omega."""
    return load_torque * speed


def total_loss(
    field_copper_loss: Value,
    added_field_loss: Value,
    armature_copper_loss: Value,
    added_armature_loss: Value,
    brush_loss: Value,
    line_loss: Value,
    rotational_loss: Value,
) -> Value:
    """P_t, the sum of the losses that the model knows."""
    return (
        field_copper_loss
        + added_field_loss
        + armature_copper_loss
        + added_armature_loss
        + brush_loss
        + line_loss
        + rotational_loss
    )


def efficiency_motoring(output_power: Value, input_power: Value) -> Value:
    """eta = P_out / P_in."""
    return output_power / input_power


def efficiency_generating(output_power: Value, input_power: Value) -> Value:
    """eta = P_in / P_out, both negative: electrical power returned over mechanical power taken in."""
    return input_power / output_power
