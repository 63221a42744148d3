"""A result as JSON values, the same for the command and for a page."""

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from typing import TypeAlias

JsonValue: TypeAlias = "str | float | int | bool | list[JsonValue] | dict[str, JsonValue] | None"


def to_json_value(value: object) -> JsonValue:
    """Dataclasses, mappings and tuples as dictionaries and lists of numbers and text. Infinity and NaN become null.

    An exact decimal, such as money, is text, because a number of JSON is none.

    A dataclass is its fields, then its properties that are a number or text, such as the total of a pot. A field whose
    metadata has a ``key`` appears under that key, so that a renamed field keeps its place in the output.
    Raises TypeError for any other type.

    >>> from monitor.formulation.clarity_sample import size_clarity_sample
    >>> to_json_value(size_clarity_sample(5).event)
    {'sample_g': 5, 'water_g': 10.0}
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {
            **{
                field.metadata.get("key", field.name): to_json_value(getattr(value, field.name))
                for field in fields(value)
            },
            **{name: to_json_value(getattr(value, name)) for name in _plain_properties(type(value))},
        }
    if isinstance(value, Mapping):
        return {str(key): to_json_value(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [to_json_value(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, Decimal):
        return f"{value:f}"
    if value is None or isinstance(value, str | float | int | bool):
        return value
    raise TypeError(f"value is {value!r}; it must be a result of the sums")


def _plain_properties(of: type) -> list[str]:
    """The public properties that are always a number or text."""
    return [
        name
        for name, member in vars(of).items()
        if isinstance(member, property)
        and not name.startswith("_")
        and member.fget is not None
        and member.fget.__annotations__.get("return") in (float, int, bool, str)
    ]
