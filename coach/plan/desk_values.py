"""From what somebody types into a field of a plan to its value, and back. Pure.

What cannot be understood stays as it was typed: the reader of plans says what is wrong with it,
and nothing that was typed is ever lost.
"""

import datetime
import re
import types
from decimal import Decimal, InvalidOperation
from typing import Any, Literal, Union, get_args, get_origin

from coach.body.regions import SIDES, regions
from coach.body.words import region_for
from coach.plan.fields import Table
from coach.plan.problems import Path
from coach.plan.reference import models

YES = frozenset({"yes", "true", "y", "ja", "j"})
NO = frozenset({"no", "false", "n", "nein"})


def field_type(path: Path) -> Any:
    """The type of the field at ``path``, without None. Raises KeyError for an unknown one."""
    *tables, name = [part for part in path if isinstance(part, str)]
    model: type[Table] = models()[".".join(tables)]
    return _bare(model.model_fields[name].annotation)


def _bare(annotation: Any) -> Any:
    """``annotation`` without what only checks it, and without None."""
    while True:
        if hasattr(annotation, "__metadata__"):
            annotation = annotation.__origin__
        elif get_origin(annotation) in (Union, types.UnionType):
            options = [option for option in get_args(annotation) if option is not type(None)]
            if len(options) != 1:
                return annotation
            annotation = options[0]
        else:
            return annotation


def read_typed(path: Path, typed: str) -> Any:
    """The value that ``typed`` means for the field at ``path``; None for nothing."""
    text = typed.strip()
    return None if not text else _read(field_type(path), text)


def _read(kind: Any, text: str) -> Any:
    if get_origin(kind) is list:
        inner = _bare(get_args(kind)[0])
        return [_read(inner, part.strip()) for part in re.split(r"[,;]", text) if part.strip()]
    if get_origin(kind) is Literal:
        options = [str(option) for option in get_args(kind)]
        near = [option for option in options if option.lower().startswith(text.lower())]
        return near[0] if len(near) == 1 else text
    if kind is bool:
        return True if text.lower() in YES else False if text.lower() in NO else text
    if kind is datetime.date:
        return _date(text)
    if kind in (int, Decimal):
        return _number(text)
    return text


def read_sides(typed: str) -> Any:
    """``lr``, ``left, right`` or ``both`` as sides of the dog; what is neither stays as typed."""
    text = typed.strip().lower()
    if not text:
        return None
    if text == "both":
        return ["left", "right"]
    if re.fullmatch(r"[lmr]{1,3}", text):
        words = list(text)
    else:
        words = [word for word in re.split(r"[\s,;]+", text) if word]
    sides = [side for side in SIDES if any(side.startswith(word) for word in words)]
    known = all(any(side.startswith(word) for side in SIDES) for word in words)
    return sides if known else [*words]


def region_key(typed: str) -> str:
    """The region that is meant by a key, a term of the trade or an owner's words; else as typed."""
    text = typed.strip()
    plain = _plain(text)
    known = region_for(text)
    if known is not None:
        return known
    begun = [
        key
        for key, place in regions().items()
        if plain
        and any(_plain(name).startswith(plain) for name in (key, place.term, place.owner_words))
    ]
    return begun[0] if len(begun) == 1 else text


def _plain(text: str) -> str:
    return re.sub(r"[\W_]+", " ", text.lower()).strip()


def _number(text: str) -> Any:
    """A number; a comma before the last digits is a decimal comma, as half of Europe types it."""
    plain = text.replace(",", ".") if re.fullmatch(r"-?\d+,\d+", text) else text
    if not re.fullmatch(r"[-+]?\d{1,40}(\.\d{1,40})?", plain):
        return text
    try:
        value = Decimal(plain)
    except InvalidOperation:
        return text
    return int(value) if "." not in plain else value


def _date(text: str) -> Any:
    iso = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text)
    german = re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", text)
    parts = iso.groups() if iso else german.groups()[::-1] if german else None
    try:
        return text if parts is None else datetime.date(*map(int, parts))
    except ValueError:
        return text


def typed_text(value: Any) -> str:
    """``value`` as somebody would type it; "" for None."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(typed_text, value))
    if isinstance(value, Decimal):
        return f"{value:f}"
    return str(value)
