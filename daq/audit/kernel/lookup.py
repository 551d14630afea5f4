"""What is known of each gauge, looked up by its number."""

from dataclasses import dataclass

import numpy as np

from daq.audit.layout import NULL
from daq.audit.source import Block, Ints


@dataclass(frozen=True, slots=True)
class ByGauge:
    """A value a gauge; of several rows of a gauge the last counts.

    ``gauge`` rises; ``value`` goes with it.
    """

    gauge: Ints
    value: Ints

    @classmethod
    def of(cls, table: Block, column: str) -> "ByGauge":
        """A column of the table of gauges; empty if there is no such table or column."""
        if column not in table or not table["gauge"].size:
            return cls(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
        gauge, first = np.unique(table["gauge"][::-1], return_index=True)
        return cls(gauge.astype(np.int64), table[column][::-1][first].astype(np.int64))

    def of_gauges(self, gauge: Ints, missing: int = NULL) -> Ints:
        """The value of each gauge, in the shape of ``gauge``; ``missing`` where none is known."""
        if not self.gauge.size:
            return np.full(gauge.shape, missing, dtype=np.int64)
        place = np.minimum(np.searchsorted(self.gauge, gauge), self.gauge.size - 1)
        found = np.where(self.gauge[place] == gauge, self.value[place], NULL)
        return np.where(found == NULL, missing, found)
