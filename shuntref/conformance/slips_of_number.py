"""Mistakes of units, of a number left out, doubled or turned over: transformations of inputs and answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from mpmath import mp, mpf

from shuntref.conformance.mistakes import Mistake, mistake, on_inputs, on_outputs, scaled_inputs
from shuntref.conformance.problem import Problem, Values

__all__ = ["HORSEPOWER_TEXTS"]

#: 550 ft lbf/s from the definitions of foot, pound and standard gravity: exact decimals
HORSEPOWER_TEXTS = ("550", "0.3048", "0.45359237", "9.80665")

_SPEEDS = ("speed", "ideal_no_load_speed", "reference_speed", "table_speed")


def _horsepower() -> Any:
    product = mpf(1)
    for text in HORSEPOWER_TEXTS:
        product *= mpf(text)
    return product


def _speed_factor(factor: Callable[[], Any]) -> Mistake:
    """A factor on every speed asked for; on the speeds given where none is asked for."""

    def change(problem: Problem) -> Problem | None:
        asked = [name for name in problem.wanted if name in _SPEEDS]
        if asked:

            def after(values: Values) -> None:
                for name in asked:
                    values[name] = values[name] * factor()

            return on_outputs(after)(problem)
        return scaled_inputs(factor, *_SPEEDS)(problem)

    return change


def _outputs_scaled(factor: Callable[[], Any], *names: str) -> Mistake:
    def change(problem: Problem) -> Problem | None:
        asked = [name for name in problem.wanted if name in names]

        def after(values: Values) -> None:
            for name in asked:
                values[name] = values[name] * factor()

        return on_outputs(after)(problem) if asked else None

    return change


def _input_replaced(name: str, new: Callable[[Values], Any]) -> Mistake:
    def change(values: Values) -> None:
        if name in values:
            values[name] = new(values)

    return on_inputs(change)


mistake("revolutions-per-minute-taken-for-radians")(_speed_factor(lambda: 30 / mp.pi))
mistake("radians-taken-for-revolutions-per-minute")(_speed_factor(lambda: mp.pi / 30))
mistake("two-pi-forgotten")(_speed_factor(lambda: 1 / (2 * mp.pi)))
mistake("horsepower-for-watts")(_outputs_scaled(lambda: 1 / _horsepower(), "output_power"))
mistake("percent-for-fraction")(_outputs_scaled(lambda: mpf(100), "efficiency", "speed_regulation"))
mistake("pole-pairs-for-poles")(_input_replaced("poles", lambda v: v["poles"] / 2))
mistake("parallel-paths-forgotten")(_input_replaced("parallel_paths", lambda v: mpf(1)))
mistake("brush-drop-forgotten")(_input_replaced("brush_drop", lambda v: mpf(0)))
mistake("brush-drop-doubled")(_input_replaced("brush_drop", lambda v: 2 * v["brush_drop"]))
mistake("brush-drop-halved")(_input_replaced("brush_drop", lambda v: v["brush_drop"] / 2))
mistake("overhauling-taken-as-motoring")(_input_replaced("load_torque", lambda v: abs(v["load_torque"])))
mistake("demagnetising-mmf-taken-for-a-pole-pair")(
    _input_replaced("demagnetising_mmf", lambda v: v["demagnetising_mmf"] / 2)
)
mistake("torque-ratio-ignored")(_input_replaced("torque_ratio", lambda v: mpf(1)))
mistake("torque-ratio-inverted")(_input_replaced("torque_ratio", lambda v: 1 / v["torque_ratio"]))
mistake("flux-ratio-inverted")(_input_replaced("flux_ratio", lambda v: 1 / v["flux_ratio"]))
mistake("cold-resistance-for-hot")(_input_replaced("winding_temperature", lambda v: v["reference_temperature"]))
