"""One sympy symbol for each quantity of the registry, so that a law and a keyword argument carry the same name."""

from __future__ import annotations

from functools import cache

import sympy as sp

from shuntref.quantities.registry import quantity

__all__ = ["symbol", "symbols"]


@cache
def symbol(name: str) -> sp.Symbol:
    """Return the sympy symbol of the registry quantity ``name``; it is real, and positive only where stated in a proof.

    Parameters
    ----------
    name : str
        Of a quantity of the registry.

    Returns
    -------
    sympy symbol
        Real; positive only where a proof states it.

    Examples
    --------
    >>> symbol("supply_voltage")
    supply_voltage
    """
    quantity(name)
    return sp.Symbol(name, real=True)


def symbols(*names: str) -> tuple[sp.Symbol, ...]:
    """Return the symbols of several quantities.

    Examples
    --------
    >>> symbols("back_emf", "k_phi")
    (back_emf, k_phi)
    """
    return tuple(symbol(name) for name in names)
