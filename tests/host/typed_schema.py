"""JSON Schema (draft 2020-12) of a TypedDict, to hold host/export.schema.json against the code.

``python tests/host/typed_schema.py`` writes it anew, after a change that was meant.
"""

import json
import sys
import types
import typing
from pathlib import Path

FILE = Path(__file__).parents[2] / "host" / "export.schema.json"
PLAIN = {str: "string", int: "integer", float: "number", bool: "boolean", type(None): "null"}


def schema_of(kind, named):
    """Of one type; TypedDicts go into ``named`` by their name."""
    if kind in PLAIN:
        return {"type": PLAIN[kind]}
    if kind is typing.Any:
        return {}
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return {"anyOf": [schema_of(one, named) for one in inner]}
    if origin is list:
        return {"type": "array", "items": schema_of(inner[0], named)}
    if origin is dict:
        return {"type": "object", "additionalProperties": schema_of(inner[1], named)}
    assert typing.is_typeddict(kind), kind
    name = kind.__name__.lstrip("_")
    if name not in named:
        named[name] = {}
        hints = typing.get_type_hints(kind)
        named[name] = {
            "description": " ".join((kind.__doc__ or "").split()),
            "type": "object",
            "properties": {key: schema_of(one, named) for key, one in hints.items()},
            "required": sorted(kind.__required_keys__),
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{name}"}


def whole():
    from snapcurve.report.export import ExportJson

    named = {}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What 'snapcurve notebook export' writes as notebook.json",
        **schema_of(ExportJson, named),
        "$defs": dict(sorted(named.items())),
    }


def written(schema):
    """The file's text: a definition on each line."""
    rest = {key: value for key, value in schema.items() if key != "$defs"}
    lines = [
        f"{json.dumps(name)}: {json.dumps(one, ensure_ascii=False)}"
        for name, one in schema["$defs"].items()
    ]
    head = json.dumps(rest, ensure_ascii=False)[:-1]
    return head + ',\n"$defs": {\n' + ",\n".join(lines) + "\n}}\n"


if __name__ == "__main__":
    sys.path[:0] = [str(FILE.parents[1] / name) for name in ("host", "protocol", "firmware")]
    FILE.write_text(written(whole()), encoding="utf-8")
