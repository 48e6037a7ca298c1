"""The JSON schemas: they take every shipped profile, and refuse what the reader refuses."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest

from timerd.places import FOLDERS, shipped
from timerd.sheet.profile.printfile import STEPS
from timerd.sheet.profile.reading import MODELS
from timerd.sheet.profile.schema import DRAFT, schema
from timerd.sheet.profile.text import read_text

SHIPPED = sorted(shipped().rglob("*.yaml"))
KIND_OF = {folder: kind for kind, folder in FOLDERS.items()}
TYPES = {"object": dict, "array": list, "string": str, "boolean": bool}
SEEN = {
    *("$schema", "$defs", "$ref", "title", "description", "default", "type", "properties", "required", "items", "enum"),
    *("additionalProperties", "patternProperties", "propertyNames", "anyOf", "oneOf", "allOf", "if", "then", "const"),
    *("pattern", "minLength", "maxLength", "minimum", "maximum", "exclusiveMinimum", "minItems", "maxItems"),
    *("minProperties", "maxProperties"),
}


def fits(value: Any, rule: dict[str, Any], root: dict[str, Any]) -> bool:
    """Whether a value fits a schema: as much of draft 2020-12 as our schemas use."""
    assert rule.keys() <= SEEN, rule.keys() - SEEN
    if "$ref" in rule and not fits(value, root["$defs"][rule["$ref"].removeprefix("#/$defs/")], root):
        return False
    number = isinstance(value, int | float) and not isinstance(value, bool)
    match rule.get("type"):
        case None:
            pass
        case "number" if not number:
            return False
        case "integer" if not (number and value == int(value)):
            return False
        case kind if kind in TYPES and not isinstance(value, TYPES[kind]):
            return False
    if value not in rule.get("enum", [value]) or value != rule.get("const", value):
        return False
    for key, tie in (
        ("anyOf", lambda n: n >= 1),
        ("oneOf", lambda n: n == 1),
        ("allOf", lambda n: n == len(rule["allOf"])),
    ):
        if key in rule and not tie(sum(fits(value, part, root) for part in rule[key])):
            return False
    if "if" in rule and fits(value, rule["if"], root) and not fits(value, rule["then"], root):
        return False
    if number:
        return rule.get("minimum", -math.inf) <= value <= rule.get("maximum", math.inf) and value > rule.get(
            "exclusiveMinimum", -math.inf
        )
    if isinstance(value, str):
        enough = rule.get("minLength", 0) <= len(value) <= rule.get("maxLength", math.inf)
        return enough and ("pattern" not in rule or re.search(rule["pattern"], value) is not None)
    if isinstance(value, list):
        enough = rule.get("minItems", 0) <= len(value) <= rule.get("maxItems", math.inf)
        return enough and all(fits(item, rule.get("items", {}), root) for item in value)
    if isinstance(value, dict):
        return _mapping_fits(value, rule, root)
    return True


def _mapping_fits(value: dict[str, Any], rule: dict[str, Any], root: dict[str, Any]) -> bool:
    if not set(rule.get("required", ())) <= value.keys():
        return False
    if not rule.get("minProperties", 0) <= len(value) <= rule.get("maxProperties", math.inf):
        return False
    for key, item in value.items():
        rules = [part for name, part in rule.get("properties", {}).items() if name == key]
        rules += [part for name, part in rule.get("patternProperties", {}).items() if re.search(name, key)]
        if not rules and isinstance(rule.get("additionalProperties"), dict):
            rules = [rule["additionalProperties"]]
        if not rules and rule.get("additionalProperties") is False:
            return False
        if not all(fits(item, part, root) for part in rules) or not fits(key, rule.get("propertyNames", {}), root):
            return False
    return True


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_shipped_profile_fits_its_schema(path: Path) -> None:
    data = read_text(path.read_bytes(), path.name).data
    made = schema(KIND_OF[path.parent.name])
    assert fits(data, made, made)
    assert isinstance(data, dict)
    assert not fits({**data, "colour": "green"}, made, made), "unknown keys are refused"
    for key in made["required"]:
        assert not fits({k: v for k, v in data.items() if k != key}, made, made)


def test_a_schema_says_what_it_is() -> None:
    for kind in MODELS:
        made = schema(kind)
        assert made["$schema"] == DRAFT and made["title"] == f"timerd {kind}" and made["required"][0] == kind
        assert json.loads(json.dumps(made)) == made
        assert '"null"' not in json.dumps(made), "a key without a value is a fault"
    with pytest.raises(LookupError, match="'camera'; there are print, bench, paper"):
        schema("camera")


def test_a_step_is_told_by_its_key() -> None:
    made = schema("print")
    step = made["properties"]["steps"]["items"]
    assert [rule["required"] for rule in step["oneOf"]] == [[kind] for kind in STEPS]
    assert {made["$defs"][name.__name__]["title"] for name in STEPS.values()} == {f"{kind} step" for kind in STEPS}
    for good in (
        {"base": "soft", "light": "green", "seconds": 12, "dodge": [{"area": "Möwe 2", "stops": "1 1/3"}]},
        {"burn": "haze", "light": ["green", "blue"], "stops": "+5/6"},
        {"burn": "haze", "light": "green", "stops": 0.5, "leave": [{"area": "all", "stops": "0"}]},
        {"burn": "haze", "light": "green", "percent": "40 %"},
        {"flash": "edges", "mm": 5, "light": "flash", "threshold": "60 %"},
        {"carry": "enlarger", "note": "keep it flat"},
    ):
        assert fits(good, step, made), good
    for bad in (
        {"base": "soft", "burn": "haze", "light": "green", "seconds": 12},
        {"light": "green", "seconds": 12},
        {"base": "soft", "light": "green", "secconds": 12},
        {"base": "soft", "light": "green", "seconds": "12"},
        {"base": "soft!", "light": "green", "seconds": 12},
        {"base": "soft", "light": "green", "seconds": 0},
        {"burn": "haze", "light": ["green"], "stops": 1},
        {"burn": "haze", "light": "green", "stops": "one"},
        {"flash": "haze", "light": "flash", "threshold": 60},
        "burn haze",
    ):
        assert not fits(bad, step, made), bad
