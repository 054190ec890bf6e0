"""Reads structs in the compact protocol that Parquet prescribes for its footer and the heads of its pages.

Source: https://github.com/apache/thrift/blob/master/doc/specs/thrift-compact-protocol.md
"""

from __future__ import annotations

from typing import Any

_DEEPEST = 16
_STOP, _TRUE, _FALSE, _BYTE, _DOUBLE, _BINARY, _STRUCT = 0, 1, 2, 3, 7, 8, 12
_NUMBERS, _LISTS = (4, 5, 6), (9, 10)


class Short(Exception):
    """The bytes at hand end within the struct."""


class Struct:
    """A struct at the start of some bytes: `fields` by number, and where it `end`s [bytes].

    A whole number is an int, text bytes, a list a list, a struct in it a mapping; other values are None.  Raises Short
    where the bytes end too soon, ValueError where they are no such struct.
    """

    def __init__(self, data: bytes) -> None:
        self._data = data
        self.end = 0
        self.fields = self._struct(0)

    def _byte(self) -> int:
        if self.end >= len(self._data):
            raise Short
        self.end += 1
        return self._data[self.end - 1]

    def _number(self) -> int:
        value = shift = 0
        while shift < 70:
            byte = self._byte()
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                return value
            shift += 7
        raise ValueError("a number without an end")

    def _bytes(self, count: int) -> bytes:
        begin, self.end = self.end, self.end + count
        if self.end > len(self._data):
            raise Short
        return self._data[begin : self.end]

    def _struct(self, depth: int) -> dict[int, Any]:
        if depth > _DEEPEST:
            raise ValueError("structs too deep in one another")
        fields: dict[int, Any] = {}
        field = 0
        while (mark := self._byte()) & 0x0F != _STOP:
            field = field + (mark >> 4) if mark >> 4 else _signed(self._number())
            fields[field] = None if mark & 0x0F in (_TRUE, _FALSE) else self._value(mark & 0x0F, depth)
        return fields

    def _value(self, kind: int, depth: int) -> Any:
        if kind in _NUMBERS:
            return _signed(self._number())
        if kind == _STRUCT:
            return self._struct(depth + 1)
        if kind in _LISTS:
            return self._list(depth + 1)
        if kind == _BINARY:
            return self._bytes(self._number())
        # A truth value is its own mark in a struct, but a byte in a list.
        if kind in (_TRUE, _FALSE, _BYTE, _DOUBLE):
            self._bytes(8 if kind == _DOUBLE else 1)
            return None
        raise ValueError(f"a field of kind {kind}")

    def _list(self, depth: int) -> list[Any]:
        if depth > _DEEPEST:
            raise ValueError("lists too deep in one another")
        mark = self._byte()
        count = mark >> 4 if mark >> 4 < 15 else self._number()
        return [self._value(mark & 0x0F, depth) for _ in range(count)]


def _signed(value: int) -> int:
    return (value >> 1) ^ -(value & 1)
