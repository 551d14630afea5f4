"""What is sound of a sheet that has mistakes, so that one mistake does not hide the others."""

from functools import lru_cache
from types import NoneType
from typing import Annotated, Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError

from daq.jobs.engine import Bank
from daq.jobs.timing import ValveTiming
from daq.jobs.valve_table import TableRow
from daq.spec import Adjuster

WHOLE = (Bank, ValveTiming, TableRow, Adjuster)
"""Forms of which a part alone says nothing: they are sound as a whole or not at all."""

Drafted = TypeVar("Drafted", bound=BaseModel)


def draft(form: type[Drafted], data: Any) -> Drafted:
    """A form filled with what is sound, each field on its own; every other one is None.

    A field that was left out has its default, or None if it must be given. ``model_fields_set``
    holds the keys that were given, rightly or wrongly. Rules over several fields are not applied.

    Args:
        form: the form.
        data: what the file has in its place; anything at all.
    """
    given = data if isinstance(data, dict) else {}
    facts: dict[str, Any] = {}
    for name, field in form.model_fields.items():
        if name in given:
            facts[name] = _sound(form, name, field.annotation, given[name])
        else:
            facts[name] = (
                None
                if field.is_required()
                else field.get_default(call_default_factory=True, validated_data={})
            )
    return form.model_construct(set(given), **facts)


def _sound(form: type[BaseModel], name: str, annotation: Any, value: Any) -> Any:
    """A field's value as far as it is sound; None if it is not."""
    inner, many = _form_in(annotation)
    if inner is None or inner in WHOLE:
        try:
            return _adapter(form, name).validate_python(value)
        except ValidationError:
            return None
    if many is dict:
        known = isinstance(value, dict)
        return {key: draft(inner, each) for key, each in value.items()} if known else None
    if many is tuple:
        return tuple(draft(inner, each) for each in value) if isinstance(value, list) else None
    return draft(inner, value) if isinstance(value, dict) else None


def _form_in(annotation: Any) -> tuple[type[BaseModel] | None, type | None]:
    """The form that a field holds, and whether it holds a dict or a tuple of them."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation, None
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _form_in(args[0])
    if origin in (dict, tuple):
        inner, _ = _form_in(args[1] if origin is dict else args[0])
        return inner, origin
    rest = [arg for arg in args if arg is not NoneType]
    return _form_in(rest[0]) if len(rest) == 1 and NoneType in args else (None, None)


@lru_cache(maxsize=256)
def _adapter(form: type[BaseModel], name: str) -> TypeAdapter[Any]:
    field = form.model_fields[name]
    annotation: Any = field.annotation
    if field.metadata:
        annotation = Annotated[(annotation, *field.metadata)]
    return TypeAdapter(annotation)
