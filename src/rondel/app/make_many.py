"""Make many sessions side by side; one that fails stops no other."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing

from rondel.app.ports.workers import Ended, Watch, Workers


def make_many(orders: Sequence[bytes], workers: Workers, watch: Watch) -> tuple[Ended, ...]:
    """Return what became of every order, in their order.

    An interruption stops all workers before it goes on its way.
    """
    ended: dict[int, Ended] = {}
    with closing(workers.run(orders)) as events:
        for number, event in events:
            watch.tell(number, event)
            if isinstance(event, Ended):
                ended[number] = event
    return tuple(ended[number] for number in range(len(orders)))
