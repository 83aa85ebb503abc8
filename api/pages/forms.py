"""What a form sends, as the body that the JSON service takes; and what was wrong, beside its field."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ValidationError

if TYPE_CHECKING:
    from collections.abc import Mapping

BodyT = TypeVar("BodyT", bound=BaseModel)

_YES_NO = {"yes": True, "no": False}
_THOUSANDS = re.compile(r"^\d{1,3}(?:[,'\s]\d{3})+(?:\.\d+)?$")


@dataclass(frozen=True)
class Form(Generic[BodyT]):
    """One form.

    Attributes:
        name: of its address and template.
        schema: the body that it becomes.
        inputs: names of its inputs, each the dotted place of its value in the body.
        yes_no: those of them that are answered with yes or no.
        numbers: those that hold a number; "52,000" may be written for 52000.
        many: lists of the body, each ticked off as boxes named "renewed.<value>".
    """

    name: str
    schema: type[BodyT]
    inputs: tuple[str, ...]
    yes_no: frozenset[str] = frozenset()
    numbers: frozenset[str] = frozenset()
    many: frozenset[str] = frozenset()

    def fields(self, sent: Mapping[str, str]) -> dict[str, str]:
        """The form's own fields of what was sent."""
        ticked = {name: sent[name] for name in sent if name.partition(".")[0] in self.many}
        return {name: sent[name] for name in self.inputs if name in sent} | ticked

    def body(self, sent: Mapping[str, str]) -> BodyT:
        """The body that was meant; an empty field counts as not given, and a unit without its figure as well.

        Raises:
            RequestValidationError: as the JSON service would, naming the fields.
        """
        content: dict[str, Any] = {}
        for name in self.inputs:
            text = sent.get(name, "").strip()
            if text and not (name.endswith(".unit") and not sent.get(name[:-4] + "value", "").strip()):
                _put(content, name.split("."), self._value(name, text))
        for name in self.many:
            if ticked := [
                each[len(name) + 1 :] for each in sent if each.startswith(f"{name}.") and sent[each]
            ]:
                content[name] = ticked
        try:
            return self.schema.model_validate(content)
        except ValidationError as error:
            raise RequestValidationError(error.errors()) from error

    def _value(self, name: str, text: str) -> Any:
        if name in self.yes_no:
            return _YES_NO.get(text, text)
        return _number(text) if name in self.numbers else text


def _number(text: str) -> float | str:
    """A number as people write it; what is none stays as it is, for the body's own rules to refuse."""
    bare = re.sub(r"[,'\s]", "", text) if _THOUSANDS.match(text) else text
    try:
        return int(bare) if bare.isdigit() else float(bare)
    except ValueError:
        return text


@dataclass(frozen=True)
class Filled:
    """A form as it is shown.

    Attributes:
        values: what stands in the inputs.
        errors: what was wrong, by input.
        general: what was wrong with none of them in particular.
        once: a name for this filling-in, so that sending it twice stores it once.
    """

    values: Mapping[str, str]
    errors: Mapping[str, str] = field(default_factory=dict)
    general: tuple[str, ...] = ()
    once: str = field(default_factory=lambda: secrets.token_urlsafe(18))

    def value(self, name: str) -> str:
        """What stands in an input."""
        return self.values.get(name, "")

    @property
    def wrong(self) -> bool:
        """Whether anything was wrong."""
        return bool(self.errors or self.general)


def refused(form: Form[Any], sent: Mapping[str, str], problem: Mapping[str, Any]) -> Filled:
    """The form with what was written kept and each of the problem's errors beside its field."""
    errors: dict[str, str] = {}
    general = []
    for place, words in _complaints(problem):
        name = _input_for(form, place)
        if name is None:
            general.append(words)
        else:
            errors.setdefault(name, words)
    return Filled(
        form.fields(sent), errors, tuple(general), sent.get("once", "") or secrets.token_urlsafe(18)
    )


def _complaints(problem: Mapping[str, Any]) -> list[tuple[str, str]]:
    """(field, words): of each entry of the errors list, or of the problem as a whole."""
    entries = problem.get("errors")
    if not entries:
        place = str(problem.get("field", ""))
        said = str(problem.get("detail") or problem["title"]).removeprefix(f"{place}: ")
        return [(place, said[:1].upper() + said[1:])]
    return [(entry["field"], _words(entry["wanted"], entry["got"])) for entry in entries]


def _words(wanted: str, got: str) -> str:
    if got == "nothing":
        return f"Nothing is written here; wanted {wanted}."
    return f"Wanted {wanted}." if got.startswith("{") else f"Wanted {wanted}; this is: {got}"


def _input_for(form: Form[Any], place: str) -> str | None:
    """The input that a field's name leads to: itself, the first one inside it, or the one that holds it."""
    if place in form.inputs or place in form.many:
        return place
    inside = [name for name in form.inputs if place and name.startswith(f"{place}.")]
    if inside:
        return inside[0]
    outer = place.rpartition(".")[0]
    return _input_for(form, outer) if outer else None


def _put(content: dict[str, Any], path: list[str], value: Any) -> None:
    for step in path[:-1]:
        content = content.setdefault(step, {})
    content[path[-1]] = value
