"""What DuckDB finds, as arrays without a copy: the Arrow C stream interface, read by ctypes.

The interface is an open standard (Arrow C data interface, Arrow C stream interface): three C
structs whose layout never changes. A stream hands out one array of structs after another, each a
batch of rows; its children are the columns. Of a column of whole numbers that has nothing missing,
buffer 1 is the numbers themselves, and an array of numpy is laid over them.

Who owns what:

- The stream belongs to the capsule that DuckDB gives. It is read where it lies, so the capsule is
  held as long as it is read, and lets go of the stream by itself.
- A batch belongs to whoever took it, and is released exactly once, by its ``release``: here when
  the last numpy array over it is gone, be it long after the stream or the connection.
"""

import ctypes
import weakref
from collections.abc import Iterator, Sequence
from typing import Any, ClassVar, Final

import duckdb
import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Batch = dict[str, Ints]
"""Columns by name, of whole numbers (64 bits or fewer), not to be written to."""

_FORMATS: Final = {
    b"c": "i1",
    b"C": "u1",
    b"s": "i2",
    b"S": "u2",
    b"i": "i4",
    b"I": "u4",
    b"l": "i8",
}
"""Format strings of the standard, and what they are in numpy. Unsigned 64 bits do not fit ours."""

_Call = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)
_Say = ctypes.CFUNCTYPE(ctypes.c_char_p, ctypes.c_void_p)
_Release = ctypes.CFUNCTYPE(None, ctypes.c_void_p)
_Fields = list[tuple[str, Any]]


class _Schema(ctypes.Structure):
    """ArrowSchema: the type of a column, or of a row, whose columns are its children."""

    _fields_: ClassVar[_Fields] = [
        ("format", ctypes.c_char_p),
        ("name", ctypes.c_char_p),
        ("metadata", ctypes.c_void_p),
        ("flags", ctypes.c_int64),
        ("n_children", ctypes.c_int64),
        ("children", ctypes.POINTER(ctypes.c_void_p)),
        ("dictionary", ctypes.c_void_p),
        ("release", _Release),
        ("private_data", ctypes.c_void_p),
    ]


class _Array(ctypes.Structure):
    """ArrowArray: so many values from ``offset`` on; buffer 0 says which are there, 1 what."""

    _fields_: ClassVar[_Fields] = [
        ("length", ctypes.c_int64),
        ("null_count", ctypes.c_int64),
        ("offset", ctypes.c_int64),
        ("n_buffers", ctypes.c_int64),
        ("n_children", ctypes.c_int64),
        ("buffers", ctypes.POINTER(ctypes.c_void_p)),
        ("children", ctypes.POINTER(ctypes.c_void_p)),
        ("dictionary", ctypes.c_void_p),
        ("release", _Release),
        ("private_data", ctypes.c_void_p),
    ]


class _Stream(ctypes.Structure):
    """ArrowArrayStream: each call of ``get_next`` fills in a batch, released already at the end."""

    _fields_: ClassVar[_Fields] = [
        ("get_schema", _Call),
        ("get_next", _Call),
        ("get_last_error", _Say),
        ("release", _Release),
        ("private_data", ctypes.c_void_p),
    ]


_pointer_in = ctypes.pythonapi.PyCapsule_GetPointer
_pointer_in.restype = ctypes.c_void_p
_pointer_in.argtypes = [ctypes.py_object, ctypes.c_char_p]


class _Held:
    """A batch that was taken, alive as long as any array is laid over it."""

    def __init__(self, batch: _Array) -> None:
        # Not when the program ends: then DuckDB may be gone before us, and memory is given back.
        weakref.finalize(self, _let_go, batch).atexit = False


class _Values:
    """So many values in memory, which numpy takes as they lie; holds on to what owns them."""

    def __init__(self, owner: _Held, address: int, size: int, kind: str) -> None:
        self.owner = owner
        self.__array_interface__ = {
            "version": 3,
            "data": (address, True),
            "shape": (size,),
            "typestr": f"={kind}",
        }


def arrays(connection: duckdb.DuckDBPyConnection, query: str) -> Batch:
    """What a query gives as a whole; each of its columns of whole numbers with nothing missing."""
    if parts := list(streamed(connection, query)):
        return joined(parts)
    return {name: np.zeros(0, dtype=np.int64) for name in connection.cursor().sql(query).columns}


def streamed(connection: duckdb.DuckDBPyConnection, query: str) -> Iterator[Batch]:
    """What a query gives, part by part in its order; none of them is held on to.

    By the way, the connection can be asked other things.
    """
    # A cursor, since the connection may still be at an answer that nobody has read to its end.
    cursor = connection.cursor()
    found = cursor.sql(query)
    if is_offered(found):
        yield from batches(found)
    else:
        columns = cursor.execute(query).fetchnumpy()
        yield {name: np.asarray(values) for name, values in columns.items()}


def joined(parts: Sequence[Batch]) -> Batch:
    """Parts after each other, one at least; as it is, if it is one."""
    if len(parts) == 1:
        return parts[0]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _emptied(parts: list[Batch]) -> list[Batch]:
    """The parts, and the list is empty, so that it does not hold on to them."""
    given = parts[:]
    parts.clear()
    return given


def cut_into(parts: Iterator[Batch], sizes: Sequence[int]) -> Iterator[Batch]:
    """Parts cut anew, into one after the other of these sizes, which add up to all there is."""
    part, at, size = next(parts), 0, 0
    for wanted in sizes:
        taken: list[Batch] = []
        while wanted or not taken:
            size = len(next(iter(part.values())))
            if at == size and wanted:
                part, at = next(parts), 0
                continue
            many = min(wanted, size - at)
            taken.append({name: values[at : at + many] for name, values in part.items()})
            at, wanted = at + many, wanted - many
        yield joined(_emptied(taken))


def is_offered(found: duckdb.DuckDBPyRelation) -> bool:
    """Whether this DuckDB gives streams that come as they are read, and not all at once."""
    return hasattr(found, "__arrow_c_stream__") and int(duckdb.__version__.split(".")[0]) >= 2


def batches(found: duckdb.DuckDBPyRelation) -> Iterator[Batch]:
    """What a query gives, batch by batch in its order; no batch is empty.

    Until all is read, or the iterator is closed, the connection can ask nothing else.

    Args:
        found: a query; each of its columns of whole numbers with nothing missing.

    Raises:
        TypeError: a column is of another type.
        ValueError: a value is missing.
        duckdb.Error: reading failed.
    """
    capsule = found.__arrow_c_stream__()
    stream = _Stream.from_address(_pointer_in(capsule, b"arrow_array_stream"))
    here = ctypes.addressof(stream)
    columns = _columns(stream, here)
    while True:
        batch = _Array()
        _check(stream.get_next(here, ctypes.addressof(batch)), stream, here)
        if not batch.release:
            break
        if batch.length:
            yield _taken(batch, columns)  # without a name here, which would hold on to it
        else:
            _let_go(batch)
    del stream, capsule


def _columns(stream: _Stream, here: int) -> list[tuple[str, str]]:
    """Name and type of each column."""
    schema = _Schema()
    _check(stream.get_schema(here, ctypes.addressof(schema)), stream, here)
    try:
        columns = []
        for place in range(schema.n_children):
            each = _Schema.from_address(schema.children[place])
            name = each.name.decode("utf-8")
            if each.format not in _FORMATS or each.dictionary:
                raise TypeError(f"{name} is no column of whole numbers, but {each.format!r}")
            columns.append((name, _FORMATS[each.format]))
        return columns
    finally:
        schema.release(ctypes.addressof(schema))


def _taken(batch: _Array, columns: list[tuple[str, str]]) -> Batch:
    owner = _Held(batch)
    taken = {}
    for place, (name, kind) in enumerate(columns):
        each = _Array.from_address(batch.children[place])
        if each.null_count != 0 and _lacks(each, batch):
            raise ValueError(f"{name} has missing values")
        first = each.offset + batch.offset
        address = (each.buffers[1] or 0) + first * np.dtype(kind).itemsize
        taken[name] = np.asarray(_Values(owner, address, batch.length, kind))
    return taken


def _lacks(each: _Array, batch: _Array) -> bool:
    """Whether a value is missing; a count below zero says that nobody has counted."""
    if each.null_count > 0 or not each.buffers[0]:
        return bool(each.buffers[0])
    first = each.offset + batch.offset
    bits = ctypes.string_at(each.buffers[0], (first + batch.length + 7) // 8)
    there = np.unpackbits(np.frombuffer(bits, dtype=np.uint8), bitorder="little")
    return not there[first : first + batch.length].all()


def _let_go(batch: _Array) -> None:
    if batch.release:
        batch.release(ctypes.addressof(batch))


def _check(failed: int, stream: _Stream, here: int) -> None:
    if failed:
        said = stream.get_last_error(here) or b""
        raise duckdb.Error(said.decode("utf-8", "replace") or f"reading failed ({failed})")
