"""Collector of the mistakes in one bed description, each named by file, key and value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from bedtide.bed.sections import (
    TABLES,
    BenchTable,
    ChangeTable,
    LayerTable,
    PipesTable,
    PlantingTable,
    Table,
    keys_of,
)
from bedtide.bed.toml_text import value_text
from bedtide.errors import (
    ChoiceError,
    FieldError,
    InputError,
    RangeError,
    UnitError,
    nearest_names,
    raise_all,
    shown,
)

_KINDS: dict[str, type[InputError]] = {
    "unit": UnitError,
    "range": RangeError,
    "choice": ChoiceError,
    "field": FieldError,
}


class Problems:
    """Mistakes found so far in one description.

    Parameters
    ----------
    mapping : mapping
        The description as read, for the values that messages repeat.
    where : str
        Its file.
    """

    def __init__(self, mapping: Mapping[str, Any], where: str) -> None:
        self.mapping = mapping
        self.where = where
        self.errors: list[InputError] = []

    def add(
        self,
        path: str,
        problem: str,
        *,
        kind: str = "range",
        expected: str = "",
        hint: str = "",
        show: bool = True,
    ) -> None:
        """Note a mistake at a key; `show` repeats its value."""
        self.errors.append(
            _KINDS[kind](self._place(path, show), problem, expected=expected, hint=hint)
        )

    def keep(self, path: str, error: InputError) -> None:
        """Note an error of another part of the program under the key that led to it."""
        place = self._place(path, True)
        kind = type(error)
        self.errors.append(kind(place, error.problem, expected=error.expected, hint=error.hint))

    def table(self, table: type[Table], values: Any, path: str) -> Any:
        """Typed table of the values, or None with its mistakes noted."""
        if not isinstance(values, Mapping):
            line = "[[planting]]" if path.startswith("planting") else f"[{path}]"
            self.add(
                path,
                "not a section",
                kind="field",
                expected=f"{line} on a line of its own with its keys below",
            )
            return None
        try:
            return table.model_validate(dict(values))
        except ValidationError as error:
            items = error.errors(include_url=False, include_input=False)
        for item in items:
            self._convert(table, path, item["loc"], item["type"], item.get("ctx") or {})
        # Keys that do not exist are noted; what is left may still be checked against the rest.
        known = {name: value for name, value in values.items() if name in keys_of(table)}
        try:
            return table.model_validate(known)
        except ValidationError:
            return None

    def given(self, path: str) -> Any:
        """Value at a key path as it was written, None where there is none."""
        found: Any = self.mapping
        for name in path.split("."):
            if isinstance(found, Mapping) and name in found:
                found = found[name]
            elif isinstance(found, Sequence) and name.isdigit() and int(name) < len(found):
                found = found[int(name)]
            else:
                return None
        return found

    def raise_all(self) -> None:
        """Raise what was noted, together."""
        raise_all(self.errors)

    def _place(self, path: str, show: bool) -> str:
        found = self.given(path)
        if not show or found is None or isinstance(found, (Mapping, list)):
            return f"{self.where}, {path}"
        return f"{self.where}, {path} = {shown(value_text(found))}"

    def _convert(
        self,
        table: type[Table],
        path: str,
        loc: tuple[int | str, ...],
        kind: str,
        parts: Mapping[str, Any],
    ) -> None:
        """Note one mistake that pydantic found."""
        key = ".".join([path, *(str(name) for name in loc if name != "[key]")])
        owner = _WITHIN.get(str(loc[0]), table) if len(loc) > 1 else table
        if kind in _KINDS:
            self.add(
                key,
                parts["problem"],
                kind=kind,
                expected=parts["expected"],
                hint=parts["hint"],
                show=kind != "unit" and loc[-1] != "[key]",
            )
        elif kind == "missing":
            name = str(loc[-1])
            expected = f"a line such as  {name} = {keys_of(owner)[name]}"
            self.add(key, "missing", kind="field", expected=expected)
        elif kind == "extra_forbidden":
            self._unknown(owner, key, str(loc[-1]))
        elif kind == "string_type":
            self.add(key, "not text", kind="field", expected="text in quotation marks")
        elif str(loc[-1]) == "change":
            self.add(
                key,
                "not a list of sections",
                kind="field",
                expected="[[overflow.change]] with two brackets on either side",
            )
        else:
            self.add(
                key, "not a table", kind="field", expected="keys and values in { } or a section"
            )

    def _unknown(self, owner: type[Table], key: str, name: str) -> None:
        """Note a key that the table has not, with the nearest name or the section it belongs to."""
        own = keys_of(owner)
        close = nearest_names(name, own, most=1)
        elsewhere = [
            section
            for section, table in {**TABLES, **_NAMED}.items()
            if name in keys_of(table) and table is not owner
        ]
        if elsewhere:
            hint = f"It belongs to {' or '.join(elsewhere)}"
        elif close:
            hint = f'Closest: "{close[0]}"'
        else:
            hint = ""
        self.add(
            key,
            "there is no such key",
            kind="field",
            expected="one of: " + ", ".join(own),
            hint=hint,
        )


_WITHIN: dict[str, type[Table]] = {"change": ChangeTable, "bench": BenchTable}
_NAMED: dict[str, type[Table]] = {
    "a reservoir of pipes": PipesTable,
    "a reservoir of crates, a false floor or stone": LayerTable,
    "planting": PlantingTable,
}
