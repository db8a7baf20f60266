"""When lists are refused: the conditions and the words, once for all languages that write them as an expression."""

from __future__ import annotations

from collections.abc import Callable

from shuntref.conformance.export.infix import Dialect
from shuntref.conformance.export.steps import RefuseTable

__all__ = ["table_refusals"]


def table_refusals(
    step: RefuseTable,
    dialect: Dialect,
    *,
    length: Callable[[str], str],
    all_equal: Callable[[str], str],
    descends: Callable[[str], str],
) -> list[tuple[str, str]]:
    """Return pairs (condition in the language, words of the refusal).

    Parameters
    ----------
    step
        What is demanded of which lists.
    dialect
        How the language says "or" and "not equal".
    length, all_equal, descends
        From the name of a list: its length, and the conditions that all its values are equal and that it does not ascend
        from zero or more.

    Examples
    --------
    >>> from shuntref.conformance.export.infix import JAVASCRIPT
    >>> ways = {"length": "len({})".format, "all_equal": "same({})".format, "descends": "down({})".format}
    >>> table_refusals(RefuseTable("same length", ("x", "y")), JAVASCRIPT, **ways)
    [('len(x) !== len(y)', 'the lists differ in length')]
    >>> table_refusals(RefuseTable("ascending", ("x",)), JAVASCRIPT, **ways)
    [('down(x)', 'x does not ascend from zero or more')]
    """
    first = step.lists[0]
    unequal = f" {dialect.unequal} "
    if step.demand == "same length":
        differs = dialect.either.join(f"{length(first)}{unequal}{length(name)}" for name in step.lists[1:])
        return [(differs, "the lists differ in length")]
    if step.demand == "at least":
        return [(f"{length(first)} < {step.count}", f"fewer than {step.count} values of {first}")]
    if step.demand == "exactly":
        return [(f"{length(first)}{unequal}{step.count}", f"{first} needs exactly {step.count} values")]
    if step.demand == "ascending":
        return [(descends(name), f"{name} does not ascend from zero or more") for name in step.lists]
    return [(all_equal(first), f"the values of {first} are all equal")]
