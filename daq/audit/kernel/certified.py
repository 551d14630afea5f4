"""The reference length of each point, held against the certificate of its standard.

A point that says its own certified length (``certified_nm``, as an export of ours works it out of
the register) is held against that. Any other is held against the lengths on the certificates that
were in force when it was taken, if its nominal length stands on one; a length that was made up from
several pieces does not, and nothing is told of it.
"""

from dataclasses import dataclass, field

import numpy as np

from daq.audit.kernel.columns import column
from daq.audit.kernel.order import changes
from daq.audit.layout import NULL
from daq.audit.source import Block, Ints

_NEVER = np.iinfo(np.int64).max
_NONE = np.zeros(0, dtype=np.int64)

Columns = dict[str, np.ndarray]


@dataclass(frozen=True, slots=True)
class Certified:
    """Certified lengths: certificates in the order of their standards, each with its lengths.

    ``standard`` rises, each once; its certificates are ``count`` from ``first`` on, which hold from
    ``from_us`` until ``until_us``. The lengths of a certificate stand in ``length`` from ``begins``
    on; at which place there each ``nominal`` is, is in ``places``, a row a ``form`` of certificate
    (-1: it is not on it). Empty where a log has no certified lengths.
    """

    standard: Ints = field(default_factory=lambda: _NONE)
    first: Ints = field(default_factory=lambda: _NONE)
    count: Ints = field(default_factory=lambda: _NONE)
    from_us: Ints = field(default_factory=lambda: _NONE)
    until_us: Ints = field(default_factory=lambda: _NONE)
    begins: Ints = field(default_factory=lambda: _NONE)
    form: Ints = field(default_factory=lambda: _NONE)
    nominal: Ints = field(default_factory=lambda: _NONE)
    places: Ints = field(default_factory=lambda: _NONE)
    length: Ints = field(default_factory=lambda: _NONE)

    @classmethod
    def of(cls, lengths: Block, standards: Block) -> "Certified":
        """The lengths of a log, from its small tables as they are; either may be empty.

        A certificate whose end nobody has entered holds on. Of two entries of one length on one
        certificate the last counts.
        """
        if not lengths or not lengths["standard"].size:
            return cls()
        own = _once(lengths, ("standard", "valid_from_us", "nominal_nm"))
        name, begun = own["standard"], own["valid_from_us"]
        begins = changes(name, begun)
        ends = np.append(begins[1:], name.size)
        standard, first = np.unique(name[begins], return_index=True)
        nominal, place = np.unique(own["nominal_nm"], return_inverse=True)
        forms: dict[bytes, int] = {}
        rows: list[Ints] = []
        form: list[int] = []
        for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
            known = forms.setdefault(place[begin:end].tobytes(), len(forms))
            if known == len(rows):
                rows.append(np.full(nominal.size, -1))
                rows[-1][place[begin:end]] = np.arange(end - begin)
            form.append(known)
        return cls(
            standard,
            first,
            np.diff(np.append(first, begins.size)),
            begun[begins],
            _ends(name[begins], begun[begins], standards),
            begins,
            np.array(form),
            nominal,
            np.stack(rows),
            own["length_nm"],
        )

    def held(self, block: Block, starts: Ints, sizes: Ints) -> Columns:
        """What a pass is told of: ``certified`` and ``off_certified_nm``.

        The points that could be held against a certificate, and the largest difference of a
        reference from the nearest length in force; missing where there is none.
        """
        off = None
        if "certified_nm" in block:
            certified = block["certified_nm"]
            off = np.abs(block["reference_nm"] - certified)
            off[certified == NULL] = -1
        elif self.standard.size:
            off = self._off(block, starts, sizes)
        if off is None:
            none = np.full(starts.size, NULL, dtype=np.int64)
            return {"certified": np.zeros(starts.size, dtype=np.int32), "off_certified_nm": none}
        most = np.maximum.reduceat(off, starts)
        return {
            "certified": np.add.reduceat(off >= 0, starts, dtype=np.int32),
            "off_certified_nm": np.where(most < 0, NULL, most),
        }

    def _off(self, block: Block, starts: Ints, sizes: Ints) -> Ints | None:
        """How far each reference is off the nearest length in force; -1 where none is known."""
        off = None
        for certificate in self._in_force(block, starts):
            if off is None:
                off = self._off_one(block, certificate, sizes)
                continue
            # A second certificate in force at the same time: few passes have one.
            rows = np.flatnonzero(np.repeat(certificate >= 0, sizes))
            part = {name: block[name][rows] for name in ("nominal_nm", "reference_nm")}
            both = certificate >= 0
            other = self._off_one(part, certificate[both], sizes[both])
            before = off[rows]
            better = (other >= 0) & ((before < 0) | (other < before))
            off[rows] = np.where(better, other, before)
        return off

    def _off_one(self, part: Block, certificate: Ints, sizes: Ints) -> Ints:
        """How far each reference is off the length on the certificate of its pass."""
        form = np.where(certificate >= 0, self.form[certificate], 0) * self.nominal.size
        begin = np.where(certificate >= 0, self.begins[certificate], -self.length.size)
        nominal = part["nominal_nm"]
        n = np.searchsorted(self.nominal, nominal)
        n[n == self.nominal.size] = 0
        place = self.places.ravel()[n + np.repeat(form, sizes)]
        row = place + np.repeat(begin, sizes)
        known = (row >= 0) & (place >= 0) & (self.nominal[n] == nominal)
        certified = self.length[np.maximum(row, 0)]
        return np.where(known, np.abs(part["reference_nm"] - certified), -1)

    def _in_force(self, block: Block, starts: Ints) -> list[Ints]:
        """The certificates in force as each pass began, -1 for none; several where they overlap."""
        s = _place(self.standard, column(block, "standard")[starts])
        at = block["at_us"][starts]
        first, count = self.first[s], np.where(s >= 0, self.count[s], 0)
        layers: list[Ints] = []
        for each in range(int(count.max(initial=0))):
            row = np.where(count > each, first + each, 0)
            holds = (count > each) & (self.from_us[row] <= at) & (at < self.until_us[row])
            for layer in layers:
                put = holds & (layer < 0)
                layer[put] = row[put]
                holds &= ~put
            if holds.any():
                layers.append(np.where(holds, row, -1))
        return layers


def _once(table: Block, keys: tuple[str, ...]) -> Block:
    """A table in the order of its keys, the last of rows with the same keys alone."""
    whole = {name: each.astype(np.int64) for name, each in table.items()}
    order = np.lexsort([whole[name] for name in reversed(keys)])  # keeps later rows later
    whole = {name: each[order] for name, each in whole.items()}
    last = np.append(changes(*(whole[name] for name in keys))[1:], order.size) - 1
    return {name: each[last] for name, each in whole.items()}


def _place(known: Ints, values: Ints) -> Ints:
    """The place of each value among the known ones, which rise; -1 where it is none of them."""
    place = np.minimum(np.searchsorted(known, values), known.size - 1)
    return np.where(known[place] == values, place, -1)


def _ends(standard: Ints, from_us: Ints, standards: Block) -> Ints:
    """When each certificate runs out, by its standard and its first moment."""
    until = np.full(standard.size, _NEVER)
    if standards and standards["standard"].size:
        ends = {
            (name, begins): end
            for name, begins, end in zip(
                standards["standard"].tolist(),
                standards["valid_from_us"].tolist(),
                standards["valid_until_us"].tolist(),
                strict=True,
            )
        }
        keys = zip(standard.tolist(), from_us.tolist(), strict=True)
        until[:] = [ends.get(key, _NEVER) for key in keys]
    return until
