"""Bench day sheet, motor laboratory (invented): speed of the small shunt motor from the supply and the two rheostats.

The students read the tachometer in r/min, and so does this script: it hands its result on as if it were rad/s.
"""

import math


def motor_speed(volts, shunt_ohm, armature_ohm, constant, torque_nm, shunt_rheostat=0.0, armature_rheostat=0.0,
                brushes=0.0, friction_nm=0.0):  # fmt: skip
    """Speed at a torque. Returns the speed (the caller takes it for rad/s)."""
    if min(volts, shunt_ohm, armature_ohm, constant) <= 0:
        raise ValueError("volts, ohms and the constant must be positive")
    if min(shunt_rheostat, armature_rheostat, brushes, friction_nm) < 0:
        raise ValueError("a rheostat, the brush drop and the friction cannot be negative")
    k_phi = constant * volts / (shunt_ohm + shunt_rheostat)
    amps = (torque_nm + friction_nm) / k_phi
    emf = volts - amps * (armature_ohm + armature_rheostat) - math.copysign(brushes, amps) * (amps != 0)
    if emf < 0:
        raise ValueError("the motor stalls")
    return emf / k_phi * 60 / (2 * math.pi)


if __name__ == "__main__":
    print(f"{motor_speed(120.0, 160.0, 0.8, 1.0, 6.0):.0f} r/min")
