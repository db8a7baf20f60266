"""Powers, losses and efficiency: pure arithmetic, one law to a function.

Arguments are numbers or arrays, which broadcast, or anything else that does arithmetic.
"""

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
    """P_in = U_s I, field included.

    Parameters
    ----------
    source_voltage : [V]
    line_current : [A]

    Returns
    -------
    [W]

    Notes
    -----
    Law input-power.

    Examples
    --------
    >>> input_power_shunt(125.0, 20.5)
    2562.5
    """
    return source_voltage * line_current


def input_power_separate(
    source_voltage: Value, armature_current: Value, field_voltage: Value, field_current: Value
) -> Value:
    """P_in = U_s I_a + U_f I_f: two sources.

    Parameters
    ----------
    source_voltage : [V]
    armature_current : [A]
    field_voltage : [V]
    field_current : [A]

    Returns
    -------
    [W]

    Notes
    -----
    Laws input-power-separate, current-sum-separate.

    Examples
    --------
    >>> input_power_separate(120.0, 20.0, 60.0, 0.5)
    2430.0
    """
    return source_voltage * armature_current + field_voltage * field_current


def field_copper_loss(field_current: Value, field_resistance: Value) -> Value:
    """P_f = I_f^2 R_f.

    Parameters
    ----------
    field_current : [A]
    field_resistance : [ohm]

    Returns
    -------
    [W]

    Notes
    -----
    Law field-copper-loss.

    Examples
    --------
    >>> field_copper_loss(0.5, 160.0)
    40.0
    """
    return field_current * field_current * field_resistance


def added_field_loss(field_current: Value, added_field_resistance: Value) -> Value:
    """P_fx = I_f^2 R_fx.

    Parameters
    ----------
    field_current : [A]
    added_field_resistance : [ohm]

    Returns
    -------
    [W]

    Notes
    -----
    Law added-field-loss.

    Examples
    --------
    >>> added_field_loss(0.5, 80.0)
    20.0
    """
    return field_current * field_current * added_field_resistance


def armature_copper_loss(armature_current: Value, armature_resistance: Value) -> Value:
    """P_a = I_a^2 R_a.

    Parameters
    ----------
    armature_current : [A]
    armature_resistance : [ohm]

    Returns
    -------
    [W]

    Notes
    -----
    Law armature-copper-loss.

    Examples
    --------
    >>> armature_copper_loss(20.0, 0.25)
    100.0
    """
    return armature_current * armature_current * armature_resistance


def added_armature_loss(armature_current: Value, added_armature_resistance: Value) -> Value:
    """P_ax = I_a^2 R_ax.

    Parameters
    ----------
    armature_current : [A]
    added_armature_resistance : [ohm]

    Returns
    -------
    [W]

    Notes
    -----
    Law added-armature-loss.

    Examples
    --------
    >>> added_armature_loss(20.0, 0.25)
    100.0
    """
    return armature_current * armature_current * added_armature_resistance


def brush_loss(brush_drop: Value, armature_current: Value) -> Value:
    """P_b = U_b I_a; pass the brush drop with the sign of the current.

    Parameters
    ----------
    brush_drop : [V]
    armature_current : [A]

    Returns
    -------
    [W]

    Notes
    -----
    Law brush-loss.

    Examples
    --------
    >>> brush_loss(2.0, 20.0)
    40.0
    """
    return brush_drop * armature_current


def line_loss(line_current: Value, line_resistance: Value) -> Value:
    """P_l = I^2 R_l.

    Parameters
    ----------
    line_current : [A]
    line_resistance : [ohm]

    Returns
    -------
    [W]

    Notes
    -----
    Law line-loss.

    Examples
    --------
    >>> line_loss(20.0, 0.25)
    100.0
    """
    return line_current * line_current * line_resistance


def electromagnetic_power(back_emf: Value, armature_current: Value) -> Value:
    """P_e = E I_a.

    Parameters
    ----------
    back_emf : [V]
    armature_current : [A]

    Returns
    -------
    [W]

    Notes
    -----
    Law electromagnetic-power.

    Examples
    --------
    >>> electromagnetic_power(110.0, 20.0)
    2200.0
    """
    return back_emf * armature_current


def rotational_loss(loss_torque: Value, speed: Value) -> Value:
    """P_0 = T_0 omega.

    Parameters
    ----------
    loss_torque : [N m]
    speed : [rad/s]

    Returns
    -------
    [W]

    Notes
    -----
    Law rotational-loss.

    Examples
    --------
    >>> rotational_loss(0.5, 220.0)
    110.0
    """
    return loss_torque * speed


def output_power(load_torque: Value, speed: Value) -> Value:
    """P_out = T_L omega.

    Parameters
    ----------
    load_torque : [N m]
    speed : [rad/s]

    Returns
    -------
    [W]

    Notes
    -----
    Law output-power.

    Examples
    --------
    >>> output_power(9.5, 220.0)
    2090.0
    """
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
    """P_t, the sum of the losses that the model knows.

    Parameters
    ----------
    field_copper_loss : [W]
    added_field_loss : [W]
    armature_copper_loss : [W]
    added_armature_loss : [W]
    brush_loss : [W]
    line_loss : [W]
    rotational_loss : [W]

    Returns
    -------
    [W]

    Notes
    -----
    Law total-loss.

    Examples
    --------
    >>> total_loss(40.0, 20.0, 100.0, 100.0, 40.0, 100.0, 110.0)
    510.0
    """
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
    """eta = P_out / P_in.

    Parameters
    ----------
    output_power : [W]
    input_power : [W]

    Returns
    -------
    [1]

    Notes
    -----
    Law efficiency.

    Examples
    --------
    >>> efficiency_motoring(2000.0, 2500.0)
    0.8
    """
    return output_power / input_power


def efficiency_generating(output_power: Value, input_power: Value) -> Value:
    """eta = P_in / P_out, both negative: electrical power returned over mechanical power taken in.

    Parameters
    ----------
    output_power : [W]
    input_power : [W]

    Returns
    -------
    [1]

    Notes
    -----
    Law efficiency-generating.

    Examples
    --------
    >>> efficiency_generating(-2500.0, -2000.0)
    0.8
    """
    return input_power / output_power
