"""Whether what a request holds is what its schema says, by the part of JSON Schema that `schemas` uses. Pure.

A value that does not fit is told with its place and with what would fit, so that whoever wrote the program sees the
typing mistake at once: nothing is guessed and nothing that is not known is passed over.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from moondesk.service.web.api.operations import Query
from moondesk.service.web.problems import Fault

_NUMBER = re.compile(r"-?[0-9]{1,30}(\.[0-9]{1,400})?([eE][-+]?[0-9]{1,4})?", re.ASCII)
_WHOLE = re.compile(r"-?[0-9]{1,20}", re.ASCII)
_KINDS = {
    "string": "a text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "object": "an object",
    "array": "a list",
    "null": "null",
}
_MOST_FAULTS = 20


def json_of(data: bytes) -> Any:
    """The value of a body. Raises ValueError with a sentence; numbers that JSON does not have are none."""
    try:
        return json.loads(data, parse_constant=_refuse)
    except UnicodeDecodeError:
        raise ValueError("The body is not UTF-8.") from None
    except json.JSONDecodeError as error:
        raise ValueError(f"The body is no JSON: {error.msg} at byte {error.pos}.") from None
    except RecursionError:
        raise ValueError("The body is nested too deeply.") from None
    except ValueError as error:  # digits without end, NaN
        raise ValueError(f"The body is no JSON: {error}.") from None


def query_of(given: Iterable[tuple[str, str]], known: Sequence[Query]) -> tuple[dict[str, Any], list[Fault]]:
    """Values by name, those not given at their default; and what is wrong."""
    by_name = {q.name: q for q in known}
    values: dict[str, Any] = {q.name: q.schema.get("default") for q in known}
    faults: list[Fault] = []
    seen: set[str] = set()
    for name, text in given:
        where = f"query {name[:60]}"
        if name not in by_name:
            there = f"it has {', '.join(by_name)}" if by_name else "it has none"
            faults.append(Fault(where, f"This address has no such parameter; {there}."))
        elif name in seen:
            faults.append(Fault(where, "It is given twice."))
        else:
            seen.add(name)
            values[name] = parse(text, by_name[name].schema)
            faults += check(values[name], by_name[name].schema, where)
    return values, faults[:_MOST_FAULTS]


def check(value: Any, schema: Mapping[str, Any], where: str = "") -> list[Fault]:
    """What is wrong with a value; empty where it fits."""
    kinds = schema.get("type", ())
    kinds = (kinds,) if isinstance(kinds, str) else tuple(kinds)
    if kinds and not any(_is(value, kind) for kind in kinds):
        return [Fault(where, f"It must be {' or '.join(_KINDS[k] for k in kinds)}.")]
    if "enum" in schema and value not in schema["enum"]:
        return [Fault(where, f"It must be one of {', '.join(json.dumps(v) for v in schema['enum'])}.")]
    if isinstance(value, str):
        return _of_text(value, schema, where)
    if isinstance(value, dict):
        return _of_object(value, schema, where)
    if isinstance(value, int | float) and not isinstance(value, bool):
        low, high = schema.get("minimum", -math.inf), schema.get("maximum", math.inf)
        if not low <= value <= high:
            return [Fault(where, f"It must lie from {low} to {high}.")]
    return []


def _of_text(value: str, schema: Mapping[str, Any], where: str) -> list[Fault]:
    least, most = schema.get("minLength", 0), schema.get("maxLength", math.inf)
    if not least <= len(value) <= most:
        return [
            Fault(
                where, f"It must have {f'{least} to ' if least else 'at most '}{most} characters; it has {len(value)}."
            )
        ]
    if schema.get("format") == "date" and not _is_date(value):
        return [Fault(where, "It must be a day like 2026-03-26.")]
    return []


def _of_object(value: Mapping[str, Any], schema: Mapping[str, Any], where: str) -> list[Fault]:
    known: Mapping[str, Any] = schema.get("properties", {})
    faults = [
        Fault(f"{where}/{_pointer(name)}", f"There is no such field; there are {', '.join(known)}.")
        for name in value
        if name not in known
    ]
    faults += [Fault(f"{where}/{name}", "It is missing.") for name in schema.get("required", ()) if name not in value]
    if not value and schema.get("minProperties"):
        faults.append(Fault(where, f"It must have at least one of {', '.join(known)}."))
    for name, part in known.items():
        if name in value:
            faults += check(value[name], part, f"{where}/{name}")
    return faults[:_MOST_FAULTS]


def _is(value: Any, kind: str) -> bool:
    if kind == "integer":  # 60.0 is one, by JSON Schema
        return (isinstance(value, int) and not isinstance(value, bool)) or (
            isinstance(value, float) and value.is_integer()
        )
    if kind == "number":
        return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    return isinstance(value, {"string": str, "boolean": bool, "object": dict, "array": list, "null": type(None)}[kind])


def parse(text: str, schema: Mapping[str, Any]) -> Any:
    """A parameter's text as the value that it stands for; the text itself where it stands for none."""
    kind = schema["type"]
    if kind == "integer" and _WHOLE.fullmatch(text):
        return int(text)
    if kind == "number" and _NUMBER.fullmatch(text):
        return float(text)
    if kind == "boolean" and text in ("true", "false"):
        return text == "true"
    return text


def _is_date(text: str) -> bool:
    try:
        return re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text) is not None and bool(date.fromisoformat(text))
    except ValueError:
        return False


def _pointer(name: str) -> str:
    return name[:60].replace("~", "~0").replace("/", "~1")


def _refuse(name: str) -> Any:
    raise ValueError(f"{name} is no number that JSON has")
