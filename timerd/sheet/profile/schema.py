"""The JSON schema of each kind of file, from the models that read it, for editors."""

from __future__ import annotations

from typing import Any

from timerd.sheet.profile.fields import WORDS
from timerd.sheet.profile.printfile import STEPS
from timerd.sheet.profile.reading import MODELS

DRAFT = "https://json-schema.org/draft/2020-12/schema"

# Editors read \W as if there were no letters but the English ones; so the signs are named that no word has.
_NO_SIGN = r"[^\s_!-,./:-@\[-^`{-~-]+"
_WORDS_FOR_EDITORS = f"^{_NO_SIGN}([ -]{_NO_SIGN})*$"


def schema(kind: str) -> dict[str, Any]:
    """The schema of `print`, `bench`, `paper`, `bath` or `feet`; any other kind is a LookupError.

    >>> schema("paper")["required"], schema("paper")["title"]
    (['paper'], 'timerd paper')
    """
    if kind not in MODELS:
        raise LookupError(f"there is no schema '{kind[:40]}'; there are {', '.join(MODELS)}")
    made: dict[str, Any] = _plain(MODELS[kind].model_json_schema())
    if kind == "print":
        made["properties"]["steps"]["items"] = _step()
        for name, step in STEPS.items():
            made["$defs"][step.__name__]["title"] = f"{name} step"
    return {"$schema": DRAFT, "title": f"timerd {kind}", **{k: v for k, v in made.items() if k != "title"}}


def _step() -> dict[str, Any]:
    """A step's kind is the key that is there; so an editor says what is wrong with a burn alone."""
    refs = {name: {"$ref": f"#/$defs/{step.__name__}"} for name, step in STEPS.items()}
    return {
        "type": "object",
        "description": f"One step; one of {', '.join(STEPS)} says of which kind it is.",
        "oneOf": [{"required": [name]} for name in STEPS],
        "allOf": [{"if": {"required": [name]}, "then": ref} for name, ref in refs.items()],
    }


def _plain(node: Any) -> Any:
    """Without what the reader does not take (a key without a value), and titles that repeat a key."""
    if isinstance(node, list):
        return [_plain(item) for item in node]
    if not isinstance(node, dict):
        return _WORDS_FOR_EDITORS if node == WORDS else node
    if "properties" in node:
        properties = {key: _property(value) for key, value in node["properties"].items()}
        node = {**node, "properties": properties}
        return {key: value if key == "properties" else _plain(value) for key, value in node.items()}
    if "patternProperties" in node:
        patterns = {_plain(pattern): _plain(value) for pattern, value in node["patternProperties"].items()}
        rest = {key: _plain(value) for key, value in node.items() if key != "patternProperties"}
        return {**rest, "patternProperties": patterns, "additionalProperties": False}
    return {key: _plain(value) for key, value in node.items()}


def _property(node: dict[str, Any]) -> Any:
    if not isinstance(node.get("default"), str | int | float):
        node = {key: value for key, value in node.items() if key != "default"}
    node = {key: value for key, value in node.items() if key != "title"}
    if "anyOf" in node:
        members = [member for member in node["anyOf"] if member != {"type": "null"}]
        rest = {key: value for key, value in node.items() if key != "anyOf"}
        node = {**members[0], **rest} if len(members) == 1 else {"anyOf": members, **rest}
    return _plain(node)
