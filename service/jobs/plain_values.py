"""Answers of children as plain values, and back by the type that was asked for: the schema is the declared type itself.

    in the child   value --plain_of--> JSON text and raw bytes
    here           JSON text and raw bytes --read_plain(type)--> value, or NotPlainError

A child that opened a hostile file may answer anything. Nothing here builds what it names: the type that is asked for
says what is built, its fields one by one, and anything else, more or less than declared, is refused. Records are
dataclasses (as lists, their name first), bytes stand outside the text by their number. Numbers are finite, or written
out as text where the type is float; times bear a zone.
"""

from __future__ import annotations

import dataclasses
import inspect
import json
import math
import sys
import types
import typing
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import Any, NoReturn

from moondesk.service.jobs.checked_pictures import Drawing, Picture, is_drawing, is_picture

#: Longest text of one value, and the largest whole number either way.
TEXT_LENGTH, WHOLE_NUMBER = 4_000_000, 2**63
_ODD_NUMBERS = {"nan": math.nan, "inf": math.inf, "-inf": -math.inf}

_Blobs = Iterator[tuple[int, bytes]]
_Reader = Callable[[Any, _Blobs], Any]


class NotPlainError(ValueError):
    """What came is not a value of the type that was asked for."""


def plain_of(value: Any) -> tuple[bytes, list[bytes]]:
    """JSON text and the bytes that stand outside it. Raises TypeError for what has no plain form."""
    blobs: list[bytes] = []
    text = json.dumps(_plain(value, blobs), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.encode(), blobs


def read_plain(kind: Any, text: bytes, blobs: list[bytes]) -> Any:
    """The value of that type. Raises NotPlainError."""
    try:
        told = json.loads(text.decode(), parse_constant=_refuse)
        rest = iter(enumerate(blobs))
        value = _reader(kind)(told, rest)
    except NotPlainError:
        raise
    except (ValueError, TypeError, KeyError, RecursionError, OverflowError, MemoryError) as error:
        raise NotPlainError(f"{type(error).__name__}: {str(error)[:200]}") from None
    if next(rest, None) is not None:
        raise NotPlainError("more bytes than the value has")
    return value


@cache
def answer_type(function: Callable[..., Any]) -> Any:
    """The declared type of what a function returns. Raises TypeError where none is declared, or none that is plain."""
    function = getattr(function, "declared", function)  # wrapped, see `engine.WithEngine`
    told = getattr(function, "__annotations__", {}).get("return", dataclasses.MISSING)
    if told is dataclasses.MISSING:
        raise TypeError(f"{function!r} does not declare what it returns, so that no child can be asked for it")
    kind = _resolve({"return": told}, function.__globals__)["return"]
    _reader(kind)
    return kind


# --- there ----------------------------------------------------------------------------------------------------------


def _plain(value: Any, blobs: list[bytes]) -> Any:
    kind = type(value)
    if kind is float:
        return value if -math.inf < value < math.inf else repr(value)
    if kind in (str, bool, int) or value is None:
        return value
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, float):  # numpy's doubles
        return float(value) if math.isfinite(value) else repr(float(value))
    if dataclasses.is_dataclass(kind):
        return [kind.__name__, *[_plain(getattr(value, name), blobs) for name in _fields(kind)]]
    if isinstance(value, tuple | list):
        return [_plain(item, blobs) for item in value]
    if isinstance(value, bytes):
        blobs.append(value)
        return len(blobs) - 1
    if isinstance(value, date):  # datetimes are dates
        if isinstance(value, datetime) and value.tzinfo is None:
            raise TypeError(f"a time without zone: {value}")
        return value.isoformat()
    if isinstance(value, Mapping):
        return {_text(key): _plain(item, blobs) for key, item in value.items()}
    if hasattr(value, "dtype") and getattr(value, "ndim", 1) == 0:  # a number of numpy
        return _plain(value.item(), blobs)
    raise TypeError(f"{kind.__name__} has no plain form")


@cache
def _fields(kind: type) -> tuple[str, ...]:
    return tuple(f.name for f in dataclasses.fields(kind))


def _text(value: Any) -> str:
    if type(value) is not str:
        raise TypeError(f"a key that is no text: {value!r}")
    return value


# --- here -----------------------------------------------------------------------------------------------------------


@cache
def _reader(kind: Any) -> _Reader:
    """What reads a value of a type; made once. Raises TypeError for a type that has no plain form."""
    if kind in _SIMPLE:
        return _SIMPLE[kind]
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin is typing.Literal:
        return _one_of({(type(v), v): v for v in args})
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return _one_of({(str, v.value): v for v in kind})
    if origin in (typing.Union, types.UnionType):
        return _union(args)
    if origin is tuple and not (len(args) == 2 and args[1] is Ellipsis):
        return _row([_reader(a) for a in args])
    if origin in (tuple, list):
        return _many(origin, _reader(args[0]))
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping) and args[0] is str:
        return _mapping(_reader(args[1]))
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        return _record(kind)
    raise TypeError(f"{kind!r} has no plain form")


def _refuse(told: object) -> NoReturn:
    raise NotPlainError(f"not what was asked for: {str(told)[:80]!r}")


def _nothing(told: Any, _: _Blobs) -> None:
    if told is not None:
        _refuse(told)


def _string(told: Any, _: _Blobs) -> str:
    if type(told) is not str or len(told) > TEXT_LENGTH:
        _refuse(told)
    text: str = told
    if not text.isascii():
        text.encode()  # half a character is none: UnicodeEncodeError is a ValueError
    return text


def _whole(told: Any, _: _Blobs) -> int:
    return told if type(told) is int and -WHOLE_NUMBER <= told < WHOLE_NUMBER else _refuse(told)


def _number(told: Any, _: _Blobs) -> float:
    if type(told) is float:
        return told if -math.inf < told < math.inf else _refuse(told)
    if type(told) is str:
        return _ODD_NUMBERS[told] if told in _ODD_NUMBERS else _refuse(told)
    if type(told) is not int:
        _refuse(told)
    number = float(told)
    return number if math.isfinite(number) else _refuse(told)


def _bool(told: Any, _: _Blobs) -> bool:
    return told if type(told) is bool else _refuse(told)


def _bytes(told: Any, blobs: _Blobs) -> bytes:
    number, data = next(blobs, (-1, b""))
    return data if type(told) is int and told == number else _refuse(told)


def _time(told: Any, _: _Blobs) -> datetime:
    time = datetime.fromisoformat(told) if type(told) is str else _refuse(told)
    return time if time.tzinfo is not None else _refuse(told)


def _date(told: Any, _: _Blobs) -> date:
    return date.fromisoformat(told) if type(told) is str else _refuse(told)


def _picture(told: Any, blobs: _Blobs) -> bytes:
    data = _bytes(told, blobs)
    return data if is_picture(data) else _refuse(data[:40])


def _drawing(told: Any, blobs: _Blobs) -> str:
    text = _string(told, blobs)
    return text if is_drawing(text) else _refuse(text)


_SIMPLE: dict[Any, _Reader] = {
    None: _nothing,
    type(None): _nothing,
    str: _string,
    int: _whole,
    float: _number,
    bool: _bool,
    bytes: _bytes,
    datetime: _time,
    date: _date,
    Picture: _picture,
    Drawing: _drawing,
}


def _one_of(known: Mapping[tuple[type, Any], Any]) -> _Reader:
    def read(told: Any, _: _Blobs) -> Any:
        if type(told) not in (str, int, bool) or (type(told), told) not in known:
            _refuse(told)
        return known[type(told), told]

    return read


def _row(readers: list[_Reader]) -> _Reader:
    def read(told: Any, blobs: _Blobs) -> tuple[Any, ...]:
        if type(told) is not list or len(told) != len(readers):
            _refuse(told)
        return tuple([reader(item, blobs) for reader, item in zip(readers, told, strict=True)])

    return read


def _many(make: type, reader: _Reader) -> _Reader:
    def read(told: Any, blobs: _Blobs) -> Any:
        if type(told) is not list:
            _refuse(told)
        return make([reader(item, blobs) for item in told])

    return read


def _mapping(reader: _Reader) -> _Reader:
    def read(told: Any, blobs: _Blobs) -> dict[str, Any]:
        if type(told) is not dict:
            _refuse(told)
        return {_string(key, blobs): reader(item, blobs) for key, item in told.items()}

    return read


def _record(kind: type) -> _Reader:
    hints = _resolve(_annotations(kind), vars(sys.modules[kind.__module__]))
    names = _fields(kind)
    readers = [_one_of({(str, kind.__name__): kind.__name__}), *(_reader(hints[name]) for name in names)]
    count = len(readers)
    plain = not hasattr(kind, "__post_init__") and not hasattr(kind, "__slots__")

    def read(told: Any, blobs: _Blobs) -> Any:
        if type(told) is not list or len(told) != count:
            _refuse(told)
        values = [reader(item, blobs) for reader, item in zip(readers, told, strict=True)][1:]
        if not plain:
            return kind(**dict(zip(names, values, strict=True)))
        made: Any = object.__new__(kind)  # an annotation holds some thousand records: a third of the time of __init__
        made.__dict__.update(zip(names, values, strict=True))
        return made

    return read


def _union(kinds: tuple[Any, ...]) -> _Reader:
    """Records by their name; else none, or the one other type that a union may have."""
    records = {k.__name__: _reader(k) for k in kinds if isinstance(k, type) and dataclasses.is_dataclass(k)}
    others = [
        _reader(k) for k in kinds if k is not type(None) and not (isinstance(k, type) and dataclasses.is_dataclass(k))
    ]
    optional = type(None) in kinds
    if len(others) > 1:
        raise TypeError(f"{kinds} cannot be told apart")

    def read(told: Any, blobs: _Blobs) -> Any:
        if told is None and optional:
            return None
        if type(told) is list and told and type(told[0]) is str and told[0] in records:
            return records[told[0]](told, blobs)
        return others[0](told, blobs) if others else _refuse(told)

    return read


def _annotations(kind: type) -> dict[str, Any]:
    merged: dict[str, Any] = {}
    for base in reversed(kind.__mro__):
        merged |= inspect.get_annotations(base)
    return merged


def _resolve(annotations: Mapping[str, Any], names: Mapping[str, Any]) -> dict[str, Any]:
    """Types for what may be their names. Some modules know the core's records only to checkers."""
    from moondesk import records as core

    def holder() -> None:
        """Bears the annotations."""

    holder.__annotations__ = dict(annotations)
    return typing.get_type_hints(holder, globalns={**vars(core), **names})
