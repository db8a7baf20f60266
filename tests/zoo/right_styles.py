"""Right implementations in the styles of different people: other names, other units, other arithmetic, other methods.

Written without the package under test. right_*.toml beside this file say what the arguments and results mean.
"""

import math
from collections import namedtuple
from fractions import Fraction

import numpy as np

RPM = 60.0 / (2.0 * math.pi)


def motor_speed_rpm(V, Rf, Ra, c, T_load, Rfx=0.0, Rax=0.0, Ub=0.0, T_loss=0.0):
    """A technician's: volts in, revolutions per minute out, checks first."""
    if V <= 0 or Rf <= 0 or Ra <= 0 or c <= 0 or min(Rfx, Rax, Ub, T_loss) < 0:
        raise ValueError("check your numbers")
    If = V / (Rf + Rfx)
    Ia = (T_load + T_loss) / (c * If)
    E = V - Ia * (Ra + Rax) - math.copysign(Ub, Ia) * (Ia != 0)
    assert E >= 0, "stalled"
    return RPM * E / (c * If)


class Machine:
    """A programmer's: the machine constant times flux is the state, errors are not-a-number."""

    def __init__(self, volts, k_phi, ohms, drop=0.0):
        self.volts, self.k_phi, self.ohms, self.drop = volts, k_phi, ohms, drop

    def omega(self, torque):
        if not (self.volts > 0 and self.k_phi > 0 and self.ohms > 0 and self.drop >= 0):
            return math.nan
        amps = torque / self.k_phi
        emf = self.volts - self.ohms * amps - self.drop * np.sign(amps)
        return emf / self.k_phi if emf >= 0 else math.nan


def omega_from_k_phi(volts, k_phi, armature_milliohms, torque, rheostat_milliohms=0.0, drop=0.0, friction=0.0):
    if armature_milliohms <= 0 or rheostat_milliohms < 0 or friction < 0:
        return None
    return Machine(volts, k_phi, (armature_milliohms + rheostat_milliohms) / 1000, drop).omega(torque + friction)


def omega_by_halving(volts, field_ohms, armature_ohms, c, load, field_rheostat, armature_rheostat, drop, friction):
    """A doubter's: no formula for the speed; the speed at which the torque balances is enclosed and halved."""
    if volts <= 0 or field_ohms <= 0 or armature_ohms <= 0 or c <= 0:
        raise ValueError("not positive")
    if min(field_rheostat, armature_rheostat, drop, friction) < 0:
        raise ValueError("negative")
    k = c * volts / (field_ohms + field_rheostat)
    ohms = armature_ohms + armature_rheostat

    def surplus(omega):
        """Developed torque less the torque wanted; falls with the speed."""
        excess = volts - k * omega
        if load + friction > 0:
            excess -= drop
        elif load + friction < 0:
            excess += drop
        return k * excess / ohms - (load + friction)

    if surplus(0.0) < 0:
        raise ValueError("stalled")
    low, high = 0.0, 1.0
    while surplus(high) > 0:
        low, high = high, 2 * high
    for _ in range(200):
        middle = (low + high) / 2
        if surplus(middle) > 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def omega_single(u, r_f, r_a, c, t, r_fx, r_ax, u_b, t_0):
    """A microcontroller's: 32-bit arithmetic throughout."""
    u, r_f, r_a, c, t, r_fx, r_ax, u_b, t_0 = (np.float32(x) for x in (u, r_f, r_a, c, t, r_fx, r_ax, u_b, t_0))
    if min(u, r_f, r_a, c) <= 0 or min(r_fx, r_ax, u_b, t_0) < 0:
        return np.float32("nan")
    k = c * (u / (r_f + r_fx))
    current = (t + t_0) / k
    emf = u - current * (r_a + r_ax) - u_b * np.sign(current)
    return emf / k if emf >= -np.float32(1e-5) * u else np.float32("nan")


def omega_arrays(u, rf, ra, c, t, rfx, rax, ub, t0):
    """An analyst's: whole columns at once, invalid rows not-a-number."""
    good = (u > 0) & (rf > 0) & (ra > 0) & (c > 0) & (rfx >= 0) & (rax >= 0) & (ub >= 0) & (t0 >= 0)
    with np.errstate(all="ignore"):
        k = c * u / (rf + rfx)
        current = (t + t0) / k
        emf = u - current * (ra + rax) - ub * np.sign(current)
        return np.where(good & (emf >= 0), emf / k, np.nan)


def currents_exactly(V, R, c, T, Rx=0.0, T0=0.0):
    """A purist's: exact fractions, results by name."""
    V, R, c, T, Rx, T0 = (Fraction(x) for x in (V, R, c, T, Rx, T0))
    if min(V, R, c) <= 0 or min(Rx, T0) < 0:
        raise ArithmeticError("impossible")
    field = V / (R + Rx)
    armature = (T + T0) / (c * field)
    return {"If": 1000 * field, "Ia": armature, "I": armature + field}


Efficiency = namedtuple("Efficiency", "kilowatts_in watts_developed horsepower percent")


def efficiency(volts, amps, field_ohms, armature_ohms, losses, field_rheostat=0.0, armature_rheostat=0.0, brush=0.0):
    """A salesman's: kilowatts, horsepower and per cent."""
    if min(volts, field_ohms, armature_ohms) <= 0 or min(losses, field_rheostat, armature_rheostat, brush) < 0:
        raise ValueError("no such machine")
    armature = amps - volts / (field_ohms + field_rheostat)
    developed = (volts - armature * (armature_ohms + armature_rheostat) - brush) * armature
    output = developed - losses
    if armature <= 0 or output < 0 or developed < 0:
        raise ValueError("no motor")
    return Efficiency(volts * amps / 1000, developed, output / 745.69987158227022, 100 * output / (volts * amps))


def speed_from_table(V, Rf, Ra, T, amperes, volts, n_table, Rfx=0.0, Rax=0.0, Ub=0.0, T0=0.0):
    """A bench hand's: the open-circuit curve as arrays, speeds in r/min."""
    if V <= 0 or Rf <= 0 or Ra <= 0 or n_table <= 0 or min(Rfx, Rax, Ub, T0) < 0 or len(amperes) != len(volts):
        raise ValueError("check the readings")
    current = V / (Rf + Rfx)
    if (
        len(amperes) < 2
        or amperes[0] < 0
        or volts[0] < 0
        or (np.diff(amperes) <= 0).any()
        or (np.diff(volts) <= 0).any()
    ):
        raise ValueError("no curve")
    if not amperes[0] <= current <= amperes[-1]:
        raise ValueError("off the curve")
    k = float(np.interp(current, amperes, volts)) / (n_table / RPM)
    armature = (T + T0) / k
    emf = V - armature * (Ra + Rax) - Ub * np.sign(armature)
    if emf < 0:
        raise ValueError("stalled")
    return k, RPM * emf / k


def fit(current, voltage):
    """A student's: the line through volt-ampere readings by a library's least squares."""
    current, voltage = np.array(current), np.array(voltage)
    if len(current) != len(voltage) or len(current) < 2 or (current <= 0).any() or (voltage <= 0).any():
        raise ValueError("readings missing or not positive")
    if np.ptp(current) == 0:
        raise ValueError("one current only")
    middle = current.mean()
    slope, there = np.polyfit(current - middle, voltage, 1)
    return slope, there - slope * middle


def rheostat(V, Rf, Ra, c, T, n, Rax=0.0, Ub=0.0, T0=0.0):
    """An experimenter's: turns the field rheostat up until the speed is right (false position, then Newton's finish)."""
    if min(V, Rf, Ra, c, n) <= 0 or min(Rax, Ub, T0) < 0:
        raise ValueError("no")
    torque, ohms, omega = T + T0, Ra + Rax, n / RPM
    u = V - Ub * np.sign(torque)
    k = u / omega  # as if unloaded, and then down to the stronger of the two fluxes
    if u * u < 4 * torque * ohms * omega:
        raise ValueError("cannot be reached")
    for _ in range(500):
        step = (k * k * omega - u * k + torque * ohms) / (2 * k * omega - u)
        k -= step
        if abs(step) <= 1e-16 * k:
            break
    found = V * c / k - Rf
    if found < 0 or not math.isfinite(found):
        raise ValueError("less than no resistance")
    return found
