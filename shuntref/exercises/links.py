"""Links between states as equations: the same quantity, a ratio, a torque that goes with the speed."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import sympy as sp

from shuntref.exercises.equation import LawEquation
from shuntref.exercises.inversion import sign
from shuntref.exercises.statement import Exercise, Link, RatioLink, Ref, SameLink
from shuntref.quantities.registry import quantity
from shuntref.theory.laws.law import Law

__all__ = ["link_equations", "link_state"]

_here, _there, _ratio = sign("here"), sign("there"), sign("ratio")
_speed_here, _speed_there = sign("speed_here"), sign("speed_there")


@lru_cache(maxsize=512)
def _same(name: str) -> Law:
    words = {"k_phi": "flux", "speed_rpm": "speed", "back_emf": "back EMF"}.get(
        name, quantity(name).name.replace("_", " ")
    )
    return Law("same", f"the {words} is the same", sp.Eq(_here, _there), "as stated")


@lru_cache(maxsize=64)
def _ratio_law(terms: int) -> Law:
    total = sp.Add(_here, *(sign(f"term_{number}") for number in range(2, terms + 1)))
    return Law("stated-ratio", "a stated ratio", sp.Eq(total, _ratio * _there), "as stated")


@lru_cache(maxsize=8)
def _load_law(load: str) -> Law:
    power = {"constant": 0, "proportional-to-speed": 1, "proportional-to-speed-squared": 2, "constant-power": -1}[load]
    title = {0: "the torque stays the same", 1: "the torque goes as the speed", 2: "the torque goes as the square of the speed",
             -1: "torque times speed stays the same"}[power]  # fmt: skip
    return Law(f"load-{load}", title, sp.Eq(_here, _there * (_speed_here / _speed_there) ** power), "as stated")


def link_state(number: int) -> str:
    """Name under which the stated ratio of link ``number`` is kept among the values.

    Examples
    --------
    >>> link_state(1)
    'link-1'
    """
    return f"link-{number}"


def link_equations(
    exercise: Exercise, number: int, link: Link, bind: Callable[[Ref], Ref], in_rpm: bool
) -> list[LawEquation]:
    """Return the equations of one link.

    Parameters
    ----------
    exercise
        The exercise; a chain of equations runs through the states in its order.
    number
        Number of the link in the file, from 1.
    link
        The link.
    bind
        Turns a reference into the quantity that stands for it.
    in_rpm
        Whether ratios of speeds are written in r/min (they are the same either way).
    """
    if isinstance(link, RatioLink):
        binding = {"there": bind(link.to), "ratio": Ref(link_state(number), "torque_ratio")}
        for place, ref in enumerate(link.of, start=1):
            binding["here" if place == 1 else f"term_{place}"] = bind(ref)
        return [LawEquation(_ratio_law(len(link.of)), binding, because=link.because)]
    ordered = [name for name in exercise.states if name in link.states]
    found = []
    for name in ordered[1:]:
        if isinstance(link, SameLink):
            pair = {"here": bind(Ref(name, link.quantity)), "there": bind(Ref(ordered[0], link.quantity))}
            law = _same(link.quantity)
        else:
            speed = "speed_rpm" if in_rpm else "speed"
            pair = {"here": bind(Ref(name, link.torque)), "there": bind(Ref(ordered[0], link.torque))}
            if link.load != "constant":
                pair |= {"speed_here": bind(Ref(name, speed)), "speed_there": bind(Ref(ordered[0], speed))}
            law = _load_law(link.load)
        if len(set(pair.values())) == len(pair):
            found.append(LawEquation(law, pair, because=link.because))
    return found
