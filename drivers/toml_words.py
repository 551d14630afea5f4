"""A validator's error in the words of a person who wrote the file: what is wrong, what is right."""

import difflib
import json
from collections.abc import Iterator
from enum import Enum
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel

from drivers.toml_lines import Path

TAGS = ("kind", "field")
"""Keys whose value chooses a form; the validator puts that value into an error's location."""

LIMITS = {
    "greater_than": "must be above {gt}",
    "greater_than_equal": "must be at least {ge}",
    "less_than": "must be below {lt}",
    "less_than_equal": "must be at most {le}",
    "multiple_of": "must be a multiple of {multiple_of}",
    "string_too_long": "has more than {max_length} characters",
    "bytes_too_long": "has more than {max_length} bytes",
    "string_pattern_mismatch": "does not fit the pattern {pattern}",
}

WANTED = {
    "string": "write text in quotes",
    "int": "write a whole number",
    "float": "write a number",
    "bool": "write true or false",
    "tuple": "write a list in square brackets",
    "list": "write a list in square brackets",
    "frozen_set": "write a list in square brackets",
    "set": "write a list in square brackets",
    "dict": "write a table in curly brackets",
    "model": "write a table in curly brackets",
    "finite": "write a number",
}


def words_for(error: Any, path: Path, data: dict[str, Any], model: type[BaseModel]) -> str:
    """What is wrong and what would be right, without the validator's jargon.

    Args:
        error: one of the validator's errors.
        path: where it is in the file.
        data: the file's content.
        model: the form of the whole file.
    """
    given, kind, ctx = _short(error["input"]), str(error["type"]), error.get("ctx", {})
    match kind:
        case "extra_forbidden":
            return _unknown(path, data, model)
        case "missing":
            return "is missing; " + _to_add(_annotation_at(model, data, path), str(path[-1]))
        case "literal_error" | "enum":
            return f"{given} is not {_one_of(ctx['expected'])}"
        case "union_tag_invalid":
            return f"{_short(ctx['tag'])} is not {_one_of(ctx['expected_tags'])}"
        case "union_tag_not_found":
            return f"is missing; {_to_add(_annotation_at(model, data, path), str(path[-1]))}"
        case "value_error":
            return str(error["msg"]).removeprefix("Value error, ")
        case "too_short" | "string_too_short" | "bytes_too_short":
            least = ctx["min_length"]
            return "must not be empty" if least == 1 else f"needs at least {least} entries"
        case "too_long":
            return f"has more than {ctx['max_length']} entries"
    if kind in LIMITS:
        return f"{given} {LIMITS[kind].format(**ctx)}"
    wanted = WANTED.get(kind.removesuffix("_type").split("_parsing")[0].split("_from")[0])
    if wanted is None:
        wanted = WANTED.get(kind.split("_")[0])
    if wanted is not None:
        return f"{given} will not do here; {wanted}"
    said = str(error["msg"])
    return f"{given}: {said[:1].lower()}{said[1:]}"


def _short(given: Any) -> str:
    """What was given, as the file writes it."""
    if isinstance(given, dict):
        return "a table"
    if isinstance(given, list | tuple):
        return "a list"
    if isinstance(given, str | bool | int | float):
        return json.dumps(given, ensure_ascii=False)
    return repr(given)


def _one_of(expected: str) -> str:
    """The validator's list of choices, in the file's quotes."""
    choices = expected.replace("'", '"')
    return choices if " or " not in choices and ", " not in choices else f"one of {choices}"


def _unknown(path: Path, data: dict[str, Any], model: type[BaseModel]) -> str:
    """A name that the form at ``path`` does not have: a slip of the pen, or the wrong table."""
    name = str(path[-1])
    node: Any = data
    for step in path[:-1]:
        node = _child(node, step)
    forms = list(_forms(_annotation_at(model, data, path[:-1])))
    # Where the file has chosen one of several forms, the others' names are no help.
    forms = [form for form in forms if _is_chosen(form, node)] or forms
    here = sorted({key for form in forms for key in _keys(form)})
    if near := difflib.get_close_matches(name, here, n=1):
        return f'unknown name; did you mean "{near[0]}"?'
    if name in _keys(model):
        return "unknown name here; it belongs at the top, before the first table in [brackets]"
    for table, field in model.model_fields.items():
        if any(name in _keys(form) for form in _forms(field.annotation)):
            return f"unknown name here; it belongs in [{field.alias or table}]"
    return f"unknown name; known here: {', '.join(here)}" if here else "unknown name"


def _to_add(annotation: Any, name: str) -> str:
    """What to write for a name that is missing."""
    forms = list(_forms(annotation))
    choices = [arg for each in _literals(annotation) for arg in get_args(each)]
    if name in TAGS and forms:
        choices = [choice for form in forms for choice in _tags_of(form, name)]
    if choices:
        return f"add {name} = one of {', '.join(json.dumps(choice) for choice in choices)}"
    if forms or get_origin(annotation) is dict:
        return f"add the table [{name}]"
    if get_origin(annotation) in (tuple, list, set, frozenset):
        forms = [form for arg in get_args(annotation) for form in _forms(arg)]
        return f"add at least one [[{name}]]" if forms else f"add {name} = [ … ]"
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return f"add {name} = one of {', '.join(json.dumps(each.value) for each in annotation)}"
    examples = {bool: "true or false", int: "a whole number", float: "a number"}
    return f"add {name} = " + examples.get(annotation, '"…"')


def is_tag(part: str | int, path: Path, data: dict[str, Any], model: type[BaseModel]) -> bool:
    """Whether ``part`` of the validator's location, after ``path``, only names a chosen form.

    A form that stands alone is not chosen: its key may have the same name as its kind.
    """
    node: Any = data
    for step in path:
        node = _child(node, step)
    named = isinstance(node, dict) and any(node.get(tag) == part for tag in TAGS)
    return named and len(list(_forms(_annotation_at(model, data, path)))) > 1


def _annotation_at(model: Any, data: Any, path: Path) -> Any:
    """The type that the form has at ``path``; None if it has none."""
    annotation, node = model, data
    for part in path:
        if isinstance(part, int):
            annotation = next(iter(get_args(annotation)), None)
        else:
            forms = [form for form in _forms(annotation) if part in _keys(form)]
            chosen = [form for form in forms if _is_chosen(form, node)] or forms
            if chosen and part not in TAGS:
                annotation = _keys(chosen[0])[part]
            elif not chosen and get_origin(annotation) is dict:
                annotation = get_args(annotation)[1]
            elif not chosen:
                return None
        node = _child(node, part)
    return annotation


def _child(node: Any, part: str | int) -> Any:
    try:
        return node[part]
    except (KeyError, IndexError, TypeError):
        return None


def _is_chosen(form: type[BaseModel], node: Any) -> bool:
    if not isinstance(node, dict):
        return False
    return any(node.get(tag) in _tags_of(form, tag) for tag in TAGS if tag in form.model_fields)


def _tags_of(form: type[BaseModel], tag: str) -> tuple[Any, ...]:
    field = form.model_fields.get(tag)
    return get_args(field.annotation) if field else ()


def _keys(form: type[BaseModel]) -> dict[str, Any]:
    """The names that a table of this form may have, with their types."""
    return {field.alias or name: field.annotation for name, field in form.model_fields.items()}


def _forms(annotation: Any) -> Iterator[type[BaseModel]]:
    """The forms that a value of this type may have."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    elif get_origin(annotation) not in (dict, tuple, list, set, frozenset, Literal):
        for arg in _parts(annotation):
            yield from _forms(arg)


def _literals(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) is Literal:
        yield annotation
    elif get_origin(annotation) not in (dict, tuple, list, set, frozenset):
        for arg in _parts(annotation):
            yield from _literals(arg)


def _parts(annotation: Any) -> tuple[Any, ...]:
    """The members of a union, or what an annotation is about."""
    if get_origin(annotation) is Annotated:
        return get_args(annotation)[:1]
    return tuple(arg for arg in get_args(annotation) if arg is not NoneType)
