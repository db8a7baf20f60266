"""Torques that depend on the speed: loads at the shaft, and the machine's own loss torque.

A positive torque opposes forward motion. The loads built in are sums of four terms, T = T0 + T1 omega + T2 omega |omega| +
P/omega, so that a sum of any of them costs no more than one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shuntref.model.validation import as_array, check_array, refuse, scalar

__all__ = [
    "ConstantPower",
    "ConstantTorque",
    "Load",
    "LoadTerms",
    "ProportionalTorque",
    "SquareTorque",
    "SumLoad",
    "UserLoad",
]


@dataclass(frozen=True, slots=True)
class LoadTerms:
    """A load taken apart: T0 [N m], T1 [N m s/rad], T2 [N m s2/rad2], P [W], and the functions of a user."""

    constant: Any = 0.0
    proportional: Any = 0.0
    square: Any = 0.0
    power: Any = 0.0
    functions: tuple[UserLoad, ...] = ()

    def __add__(self, other: LoadTerms) -> LoadTerms:
        return LoadTerms(
            self.constant + other.constant,
            self.proportional + other.proportional,
            self.square + other.square,
            self.power + other.power,
            self.functions + other.functions,
        )


class Load:
    """What every load offers; ``+`` puts loads together."""

    def terms(self) -> LoadTerms:
        """The load as its four terms and functions."""
        raise TypeError(f"{type(self).__name__} has no terms; a load must define it")

    def torque(self, speed: Any) -> Any:
        """Torque at a speed.

        Parameters
        ----------
        speed : float or array
            [rad/s]

        Returns
        -------
        float or array
            [N m], broadcast with the parameters of the load.

        Raises
        ------
        ValueError
            A speed that is not finite, or standstill for a load of constant power.

        Examples
        --------
        >>> (ConstantTorque(2.0) + SquareTorque(4.0, speed=100.0)).torque(50.0)
        3.0
        """
        if isinstance(speed, (int, float)):
            omega: Any = scalar("speed", speed, "finite")
        else:
            omega = as_array("speed", speed)
            check_array("speed", omega, "finite")
        terms = self.terms()
        if np.any(np.asarray(terms.power) != 0.0) and np.any(np.asarray(omega) == 0.0):
            raise refuse("speed", 0.0, "a speed other than zero, for a load of constant power,")
        torque = torque_of(terms, omega)
        return torque if np.ndim(torque) or not np.ndim(omega) else np.full_like(omega, torque)

    def __add__(self, other: Load) -> SumLoad:
        if not isinstance(other, Load):
            return NotImplemented
        return SumLoad((*_parts(self), *_parts(other)))


def _parts(load: Load) -> tuple[Load, ...]:
    return load.loads if isinstance(load, SumLoad) else (load,)


def torque_of(terms: LoadTerms, speed: Any) -> Any:
    """Torque of the terms at a speed, unchecked."""
    torque = terms.constant
    if not _is_zero(terms.proportional):
        torque = torque + terms.proportional * speed
    if not _is_zero(terms.square):
        torque = torque + terms.square * (speed * abs(speed))
    if not _is_zero(terms.power):
        torque = torque + _power_torque(terms.power, speed)
    for function in terms.functions:
        torque = torque + function.called(speed)
    return torque


def _power_torque(power: Any, speed: Any) -> Any:
    """P/omega, and no torque for no power even at standstill."""
    if isinstance(speed, float):
        return power / speed if speed != 0.0 or np.ndim(power) else math.copysign(math.inf, power) if power else 0.0
    torque = power / speed
    return torque if speed.all() else np.where(power == 0.0, 0.0, torque)


def _power_slope(power: Any, speed: Any) -> Any:
    """P/omega^2, and none for no power even at standstill."""
    slope = power / (speed * speed)
    return slope if np.all(speed) else np.where(np.equal(power, 0.0), 0.0, slope)


def slope_of(terms: LoadTerms, speed: Any) -> Any:
    """Derivative of ``torque_of`` with the speed, unchecked; a user's function by a central difference."""
    slope = terms.proportional
    if not _is_zero(terms.square):
        slope = slope + 2.0 * terms.square * abs(speed)
    if not _is_zero(terms.power):
        slope = slope - _power_slope(terms.power, speed)
    for function in terms.functions:
        step = 1e-6 * (1.0 + abs(speed))
        slope = slope + (function.called(speed + step) - function.called(speed - step)) / (2.0 * step)
    return slope


def _is_zero(coefficient: Any) -> bool:
    return type(coefficient) is float and coefficient == 0.0


def _number(name: str, value: Any, rule: str = "finite") -> Any:
    """A float, or a checked array, of a load's parameter."""
    if isinstance(value, (int, float)) or np.ndim(value) == 0:
        return scalar(name, value, rule)
    array = as_array(name, value)
    check_array(name, array, rule)
    return array


@dataclass(frozen=True)
class ConstantTorque(Load):
    """The same torque at every speed, a negative one driving the machine.

    Parameters
    ----------
    load_torque : float or array
        [N m]

    Examples
    --------
    >>> ConstantTorque(4.0).torque(50.0)
    4.0
    """

    load_torque: Any

    def __post_init__(self) -> None:
        object.__setattr__(self, "load_torque", _number("load_torque", self.load_torque))

    def terms(self) -> LoadTerms:
        return LoadTerms(constant=self.load_torque)


@dataclass(frozen=True)
class _TorqueAtSpeed(Load):
    """A load said by its torque at one speed."""

    load_torque: Any
    speed: Any = 1.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "load_torque", _number("load_torque", self.load_torque))
        object.__setattr__(self, "speed", _number("speed", self.speed, "positive"))


@dataclass(frozen=True)
class ProportionalTorque(_TorqueAtSpeed):
    """Torque proportional to speed: ``load_torque`` at ``speed``; with the speed left out, the torque per rad/s.

    Parameters
    ----------
    load_torque : float or array
        [N m]
    speed : float or array
        [rad/s], above zero.

    Examples
    --------
    >>> ProportionalTorque(4.0, speed=100.0).torque(50.0)
    2.0
    """

    def terms(self) -> LoadTerms:
        return LoadTerms(proportional=self.load_torque / self.speed)


@dataclass(frozen=True)
class SquareTorque(_TorqueAtSpeed):
    """Torque proportional to the square of the speed (a fan): ``load_torque`` at ``speed``.

    Parameters
    ----------
    load_torque : float or array
        [N m]
    speed : float or array
        [rad/s], above zero.

    Examples
    --------
    >>> SquareTorque(4.0, speed=100.0).torque(50.0)
    1.0
    """

    def terms(self) -> LoadTerms:
        return LoadTerms(square=self.load_torque / (self.speed * self.speed))


@dataclass(frozen=True)
class ConstantPower(Load):
    """The same power at every speed.

    Parameters
    ----------
    output_power : float or array
        [W]

    Examples
    --------
    >>> ConstantPower(400.0).torque(100.0)
    4.0
    """

    output_power: Any

    def __post_init__(self) -> None:
        object.__setattr__(self, "output_power", _number("output_power", self.output_power))

    def terms(self) -> LoadTerms:
        return LoadTerms(power=self.output_power)


@dataclass(frozen=True)
class UserLoad(Load):
    """A function of the caller's own: speed [rad/s] in, torque [N m] out, arrays in and out when it is given arrays.

    Parameters
    ----------
    function : callable
        Must return finite torques of the shape of the speeds.

    Raises
    ------
    ValueError
        Something that is no function; what it returns is looked at when it is called.

    Examples
    --------
    >>> UserLoad(lambda speed: 0.5 + 0.02 * speed).torque(100.0)
    2.5
    """

    function: Callable[[Any], Any]

    def __post_init__(self) -> None:
        if not callable(self.function):
            raise refuse("load", self.function, "a function of the speed")

    def terms(self) -> LoadTerms:
        return LoadTerms(functions=(self,))

    def called(self, speed: Any) -> Any:
        """The function's torque, looked at before it is used."""
        handed = (
            speed if isinstance(speed, float) else speed.copy()
        )  # whatever the function does to it is its own affair
        torque = self.function(handed)
        try:
            result = np.asarray(torque, dtype=np.result_type(speed) if np.ndim(speed) else np.float64)
            result = np.broadcast_to(result, np.shape(speed))
        except (TypeError, ValueError):
            raise refuse("load_torque", torque, "a number for each speed, from the load function,") from None
        if not np.all(np.isfinite(result)):
            first = int(np.argmin(np.isfinite(result).ravel()))
            at = float(np.ravel(speed)[first])
            value = float(result.ravel()[first])
            raise refuse("load_torque", value, f"a finite torque from the load function at {at:g} rad/s")
        return float(result) if isinstance(speed, float) else result


@dataclass(frozen=True)
class SumLoad(Load):
    """Several loads on one shaft; written ``ConstantTorque(2.0) + SquareTorque(3.0, speed=150.0)``.

    Parameters
    ----------
    loads : tuple of Load

    Raises
    ------
    ValueError
        One of them is no load.

    Examples
    --------
    >>> SumLoad((ConstantTorque(2.0), SquareTorque(4.0, speed=100.0))).torque(50.0)
    3.0
    """

    loads: tuple[Load, ...]

    def __post_init__(self) -> None:
        loads = tuple(self.loads)
        for load in loads:
            if not isinstance(load, Load):
                raise refuse("load", load, "a load (ConstantTorque, SquareTorque, ...)")
        object.__setattr__(self, "loads", loads)

    def terms(self) -> LoadTerms:
        total = LoadTerms()
        for load in self.loads:
            total = total + load.terms()
        return total
