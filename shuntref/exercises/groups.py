"""Which equations must be solved together: a maximum matching and the strongly connected groups it leaves."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from shuntref.exercises.statement import Ref

__all__ = ["Group", "find_groups"]


@dataclass(frozen=True)
class Group:
    """As many equations as unknowns, none of which can be solved without the others."""

    equations: tuple[int, ...]
    unknowns: tuple[Ref, ...]


def find_groups(unknowns: Mapping[int, Sequence[Ref]], wanted: Collection[Ref]) -> tuple[list[Group], list[Group]]:
    """Find the groups that can be solved next.

    Parameters
    ----------
    unknowns
        The unknowns of every equation that may be used, by its index; a smaller index is preferred.
    wanted
        The unknowns that are asked for.

    Returns
    -------
    tuple of lists of Group
        Those that the wanted unknowns depend on, and the others; each smallest first.

    Examples
    --------
    >>> x, y, z = (Ref("s", name) for name in ("armature_current", "back_emf", "speed"))
    >>> find_groups({0: (x, y), 1: (x, y), 2: (y, z)}, [z])[0]
    [Group(equations=(0, 1), unknowns=(..., ...))]
    """
    edges = {index: unknowns[index] for index in sorted(unknowns) if unknowns[index]}
    partner = _matching(edges)
    holder = {ref: index for index, ref in partner.items()}
    loose = _underdetermined(edges, partner, holder)
    sound = [index for index in partner if index not in loose]
    needs = {index: [holder[ref] for ref in edges[index] if holder[ref] != index] for index in sound}
    components = _components(sound, needs)
    place = {index: number for number, members in enumerate(components) for index in members}
    ready = [
        number for number, members in enumerate(components)
        if all(place[other] == number for index in members for other in needs[index])
    ]  # fmt: skip
    asked = _ancestors([holder[ref] for ref in wanted if ref in holder and holder[ref] not in loose], needs)
    groups: tuple[list[Group], list[Group]] = ([], [])
    for number in ready:
        members = tuple(sorted(components[number]))
        group = Group(members, tuple(partner[index] for index in members))
        groups[0 if asked & set(members) else 1].append(group)
    for side in groups:
        side.sort(key=lambda group: (len(group.equations), group.equations))
    return groups


def _matching(edges: Mapping[int, Sequence[Ref]]) -> dict[int, Ref]:
    """Give every equation, as far as possible, an unknown of its own."""
    holder: dict[Ref, int] = {}

    def place(index: int, visited: set[Ref]) -> bool:
        for ref in edges[index]:
            if ref in visited:
                continue
            visited.add(ref)
            if ref not in holder or place(holder[ref], visited):
                holder[ref] = index
                return True
        return False

    for index in edges:
        place(index, set())
    return {index: ref for ref, index in sorted(holder.items(), key=lambda item: item[1])}


def _underdetermined(
    edges: Mapping[int, Sequence[Ref]], partner: Mapping[int, Ref], holder: Mapping[Ref, int]
) -> set[int]:
    """Equations that hold an unknown which nothing fixes, directly or through others."""
    within: dict[Ref, list[int]] = {}
    for index, refs in edges.items():
        for ref in refs:
            within.setdefault(ref, []).append(index)
    queue = [ref for ref in within if ref not in holder]
    seen_refs, loose = set(queue), set()
    while queue:
        for index in within[queue.pop()]:
            if index in loose:
                continue
            loose.add(index)
            own = partner.get(index)
            if own is not None and own not in seen_refs:
                seen_refs.add(own)
                queue.append(own)
    return loose


def _components(nodes: Sequence[int], needs: Mapping[int, Sequence[int]]) -> list[list[int]]:
    """Strongly connected components, by Tarjan's method without recursion."""
    number: dict[int, int] = {}
    low: dict[int, int] = {}
    stack: list[int] = []
    on_stack: set[int] = set()
    found: list[list[int]] = []
    for root in nodes:
        if root in number:
            continue
        work = [(root, iter(needs[root]))]
        number[root] = low[root] = len(number)
        stack.append(root)
        on_stack.add(root)
        while work:
            node, following = work[-1]
            advanced = False
            for other in following:
                if other not in number:
                    number[other] = low[other] = len(number)
                    stack.append(other)
                    on_stack.add(other)
                    work.append((other, iter(needs[other])))
                    advanced = True
                    break
                if other in on_stack:
                    low[node] = min(low[node], number[other])
            if advanced:
                continue
            work.pop()
            if work:
                low[work[-1][0]] = min(low[work[-1][0]], low[node])
            if low[node] == number[node]:
                members = []
                while True:
                    member = stack.pop()
                    on_stack.discard(member)
                    members.append(member)
                    if member == node:
                        break
                found.append(members)
    return found


def _ancestors(start: Collection[int], needs: Mapping[int, Sequence[int]]) -> set[int]:
    found, queue = set(start), list(start)

    while queue:
        for other in needs.get(queue.pop(), ()):
            if other not in found:
                found.add(other)
                queue.append(other)
    return found
