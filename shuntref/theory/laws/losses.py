"""The conventions of losses: what a text counts as constant, as stray, as neglected; and the balances they go into."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import sympy as sp

from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

__all__ = ["LAWS", "constant_loss_law"]

_COMMON = "common to all textbooks of electrical machines; from memory"
_P_in, _P_out, _P_e, _P_s = (s(n) for n in ("input_power", "output_power", "electromagnetic_power", "stray_loss"))
_U, _I_a = s("supply_voltage"), s("armature_current")


@lru_cache(maxsize=64)
def _constant_loss(parts: tuple[str, ...]) -> Law:
    total: sp.Expr = sp.Integer(0)
    for part in parts:
        total = total + s(part)
    words = " and ".join(part.replace("_", " ") for part in parts)
    return Law(
        f"constant-loss-{'-'.join(parts).replace('_', '-')}",
        f"constant loss: {words}",
        sp.Eq(s("constant_loss"), total),
        "by the convention of the text",
    )


def constant_loss_law(parts: Sequence[str]) -> Law:
    """Return the law that says which losses a text's constant loss holds.

    Examples
    --------
    >>> constant_loss_law(["rotational_loss", "field_copper_loss"]).equation
    Eq(constant_loss, field_copper_loss + rotational_loss)
    """
    return _constant_loss(tuple(sorted(parts)))


LAWS: tuple[Law, ...] = (
    Law(
        "armature-drop",
        "drop in the armature circuit",
        sp.Eq(s("armature_drop"), _I_a * s("armature_circuit_resistance")),
        source=_COMMON,
    ),
    Law(
        "armature-drop-neglected",
        "the drop in the armature is neglected",
        sp.Eq(s("back_emf"), _U),
        "armature current small, as at no load",
    ),
    Law(
        "armature-input-power",
        "power taken by the armature circuit",
        sp.Eq(s("armature_input_power"), _U * _I_a),
        source=_COMMON,
    ),
    Law(
        "copper-loss",
        "copper losses of both circuits",
        sp.Eq(
            s("copper_loss"),
            s("armature_copper_loss") + s("added_armature_loss") + s("field_copper_loss") + s("added_field_loss"),
        ),
        source=_COMMON,
    ),
    Law("brush-pair", "one brush of each polarity", sp.Eq(s("brush_drop"), 2 * s("brush_drop_per_brush"))),
    Law(
        "shaft-power",
        "developed power from torque and speed",
        sp.Eq(_P_e, s("electromagnetic_torque") * s("speed")),
        source=_COMMON,
    ),
    Law(
        "power-balance",
        "developed power covers output, rotational and stray loss",
        sp.Eq(_P_e, _P_out + s("rotational_loss") + _P_s),
        source=_COMMON,
    ),
    Law("loss-balance", "input is output and losses", sp.Eq(_P_in, _P_out + s("total_loss")), source=_COMMON),
    Law(
        "stray-share-of-input",
        "stray loss as a share of the input",
        sp.Eq(_P_s, s("stray_share") * _P_in),
        "by the convention of the text",
    ),
    Law(
        "stray-share-of-output",
        "stray loss as a share of the output",
        sp.Eq(_P_s, s("stray_share") * _P_out),
        "by the convention of the text",
    ),
    constant_loss_law(("rotational_loss",)),
    constant_loss_law(("rotational_loss", "field_copper_loss")),
    Law(
        "maximum-efficiency",
        "greatest efficiency: the loss that goes as the square of the current equals the constant loss",
        sp.Eq(s("armature_copper_loss"), s("constant_loss")),
        "field current small beside the armature current, no brush drop; the textbook condition",
        _COMMON,
    ),
    Law(
        "brake-torque",
        "pull on the rim of a pulley",
        sp.Eq(s("load_torque"), s("brake_force") * s("pulley_diameter") / 2),
        source=_COMMON,
    ),
)
