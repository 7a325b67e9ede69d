"""How a record is said in JSON: chosen fields under their own names, in forms that JSON knows."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from tracker.interval import Interval


def fields_json(record: object, names: str) -> dict[str, Any]:
    """Return fields of a record, named with spaces between, each as JSON has it."""
    return {name: json_value(getattr(record, name)) for name in names.split()}


def json_value(value: Any) -> Any:
    """Return an interval by its four keys, a date in ISO form, a tuple as a list; else ``value``.

    What lies inside a tuple or a mapping is said so too.
    """
    if isinstance(value, Interval):
        return value.as_json()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [json_value(one) for one in value]
    if isinstance(value, Mapping):
        return {name: json_value(one) for name, one in value.items()}
    return value
