"""What a law is: an equation between quantities of the registry, with its name, validity and source."""

from __future__ import annotations

from dataclasses import dataclass

import sympy as sp

__all__ = ["Law"]


@dataclass(frozen=True)
class Law:
    """An equation that the machine obeys.

    ``name`` is a stable slug; ``title`` the words of a textbook ("voltage balance of the armature circuit"); ``when``
    says where it holds; ``source`` where it can be read.
    """

    name: str
    title: str
    equation: sp.Eq
    when: str = "always"
    source: str = ""

    @property
    def quantities(self) -> tuple[str, ...]:
        """Names of the registry quantities in the equation, in alphabetical order."""
        return tuple(sorted(str(s) for s in self.equation.free_symbols))

    @property
    def residual(self) -> sp.Expr:
        """Left side minus right side; zero where the law is obeyed."""
        return self.equation.lhs - self.equation.rhs
