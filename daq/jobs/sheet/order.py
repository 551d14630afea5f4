"""The order of steps that keeps every prerequisite, or the circle that makes it impossible."""

from collections.abc import Iterator, Mapping, Sequence

Waits = Mapping[str, Sequence[str]]
"""By step, the steps that it comes after. Names that are no step are left aside."""


def in_order(waits: Waits) -> tuple[str, ...]:
    """Every step after those that it waits for, and otherwise as written.

    Args:
        waits: in the order written; what waits in a circle is left out.
    """
    done: dict[str, None] = {}
    left = list(waits)
    while ready := [s for s in left if all(w in done or w not in waits for w in waits[s])]:
        # One at a time, the first as written: a later one must not overtake what it freed.
        done[ready[0]] = None
        left.remove(ready[0])
    return tuple(done)


def circles(waits: Waits) -> Iterator[tuple[str, ...]]:
    """Each circle of steps that wait for each other, the first as written first.

    Returns:
        Chains such as ``(a, b, a)``: a comes after b, and b after a. One a circle; no step is in
        two of them.
    """
    left = {step: tuple(waits[step]) for step in waits if step not in in_order(waits)}
    while left:
        # Every step that is left is in a circle or waits for one, so there is one.
        chain = next(filter(None, (_circle_through(step, left) for step in left)))
        yield chain
        # What only waited for this circle is in none itself: take the circle out and look again.
        rest = {step: each for step, each in left.items() if step not in chain}
        left = {step: rest[step] for step in rest if step not in in_order(rest)}


def _circle_through(start: str, waits: Waits) -> tuple[str, ...] | None:
    """The shortest circle that a step is in; None if it is in none."""
    paths: list[tuple[str, ...]] = [(start,)]
    seen = {start}
    while paths:
        path = paths.pop(0)
        for step in waits[path[-1]]:
            if step == start:
                return (*path, start)
            if step in waits and step not in seen:
                seen.add(step)
                paths.append((*path, step))
    return None
