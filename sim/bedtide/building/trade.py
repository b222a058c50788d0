"""Sizes and prices: those of the trade, or in their place those of the user's own file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, NamedTuple

from bedtide.errors import FieldError, InputError, UnitError, nearest_names, raise_all
from bedtide.errors import shown as shortened
from bedtide.tables import read_table
from bedtide.toml_text import tables_of, text_of
from bedtide.units import System, convert, parse

_RATES: Final = ("kg/m3", "kg/m2", "1")  # what an amendment's rate may be
_LEAST, _MOST = 1e-4, 1e4  # that a size may be [SI]; beyond it is a slip of the pen
_PRICE: Final = 'a number such as 9.50, for one, or a rate such as "4.20 / m2"'


class Size(NamedTuple):
    """One size as sold: its words, and its price if known."""

    text: str
    price: float | None


@dataclass(frozen=True)
class Given:
    """A size that was used: its words, what it is, and where it comes from."""

    key: str
    value: str
    about: str
    standing: str


@dataclass(frozen=True, kw_only=True)
class Trade:
    """Every size in SI units, by its key."""

    where: str  # the file of the user
    currency: str
    values: dict[str, float] = field(default_factory=dict)  # without those to be asked for
    sizes: dict[str, dict[float, Size]] = field(default_factory=dict)  # as sold
    prices: dict[str, tuple[float, str]] = field(default_factory=dict)  # of one, or of a unit
    amendments: dict[str, tuple[float, str]] = field(default_factory=dict)  # rate and its unit
    table: dict[str, Given] = field(default_factory=dict)  # all of the sizes in words

    def __getitem__(self, key: str) -> float:
        """A size that has a value [SI]."""
        return self.values[key]

    def bags(self, medium: str) -> dict[float, Size]:
        """Sizes in which a medium is sold [m3]."""
        return self.sizes.get(f"bag.{medium}") or self.sizes["bag.other"]

    def price(self, item: str, count: int, amount: float, unit: str) -> float | None:
        """What so many pieces that measure `amount` in all cost; None where no price is given."""
        each, per = self.prices.get(item, (None, ""))
        if each is None or not per:
            return None if each is None else each * count
        try:
            return each * float(convert(amount, unit or "1", per))
        except ValueError:
            raise UnitError(
                f"{self.where}, prices.{item}",
                f'"{shortened(per)}" is not what it is measured in',
                expected=f"{_PRICE}; this one is measured in {unit or 'pieces'}",
            ) from None


def read_trade(path: Path | None, units: System) -> Trade:
    """Sizes of the trade, with what the user's TOML file says in their place."""
    rows = read_table("trade_sizes.csv", key="key")
    own, errors = _own(path), list[InputError]()
    where = path.name if path is not None else "trade sizes"
    trade = Trade(where=where, currency=str(own.pop("currency", "")))
    wanted: dict[str, tuple[Any, str]] = {
        key: (row[units], row["standing"]) for key, row in rows.items() if row[units]
    }
    amendments = own.get("amendments")
    for name in amendments if isinstance(amendments, Mapping) else ():
        rows.setdefault(f"prices.{name}", rows["prices.lid"])  # each may have a price of its own
    for section, keys in own.items():
        for name, value in keys.items() if isinstance(keys, Mapping) else [("", keys)]:
            key = f"{section}.{name}" if name else section
            if name and (key in rows or section in ("bag", "amendments")):
                wanted[key] = value, where
            else:
                errors.append(_unknown(where, key, rows))
    for key, (value, standing) in wanted.items():
        row = rows.get(key, {**rows["bag.other"], "about": "a bag"})
        try:
            if words := _taken(trade, key, value, row["unit"], bool(row["needed"])):
                trade.table[key] = Given(key, words, row["about"], standing)
        except InputError as error:
            errors.append(error)
    raise_all(errors)
    return trade


def _taken(trade: Trade, key: str, value: Any, unit: str, needed: bool) -> str:
    """Put a size or a price into its table; a size in words, nothing for what is no size."""
    (section, _, name), where = key.partition("."), f"{trade.where}, {key}"
    if section == "amendments":
        trade.amendments[name] = _rate(value, where)
    elif unit == "price":
        trade.prices[name] = _price(value, where)
    elif unit.endswith("sizes"):
        trade.sizes[key] = _sizes(value, unit.split()[0], where)
        if needed and not trade.sizes[key]:
            raise FieldError(where, "there is no size in it", expected="one size at the least")
        return ", ".join(size.text for size in trade.sizes[key].values()) or "none"
    else:
        trade.values[key] = _size(value, unit, where, needed=needed)
        return str(value)
    return ""


def _own(path: Path | None) -> dict[str, Any]:
    """Tables of the user's file."""
    if path is None:
        return {}
    return tables_of(text_of(path, "sizes and prices"), path.name, 'liner = "4.20 / m2"')


def _unknown(where: str, key: str, rows: Mapping[str, Any]) -> FieldError:
    sections = dict.fromkeys([*(each.partition(".")[0] for each in rows), "amendments"])
    close = nearest_names(key, rows, most=1)
    return FieldError(
        f"{where}, {key}",
        "there is no such key",
        expected="currency, or a section: " + ", ".join(f"[{each}]" for each in sections),
        hint=f"Closest: {close[0]}" if close else "docs/build.md names every key",
    )


def _size(value: Any, unit: str, where: str, *, needed: bool) -> float:
    """A size within reason [SI], and not nothing where it is needed."""
    size = parse(value, unit, where=where)
    most = 1.0 if unit == "1" else _MOST
    if not 0.0 <= size < most:
        bounds = f"none or more, and less than {most:g} {unit}"
        expected = "at least 0 %, less than 100 %" if unit == "1" else bounds
        raise FieldError(where, f'"{value}" is out of range', expected=expected)
    if needed and size < _LEAST:
        raise FieldError(where, f'"{value}" is no size', expected=f"at least {_LEAST:g} {unit}")
    return size


def _sizes(value: Any, unit: str, where: str) -> dict[float, Size]:
    """Sizes as sold, from a text, a list or a table with prices; smallest first."""
    if isinstance(value, str):
        value = [each.strip() for each in value.split(", ")]
    if not isinstance(value, (list, Mapping)):
        expected = 'such as "3 m", ["3 m", "6 m"] or { "3 m" = 9, "6 m" = 17 }'
        raise FieldError(where, "not a size, a list or a table", expected=expected)
    prices = value if isinstance(value, Mapping) else dict.fromkeys(map(str, value))
    found = {}
    for text, price in prices.items():
        size = _size(text, unit, where, needed=True)
        found[size] = Size(text, None if price is None else _number(price, f"{where}.{text}"))
    return dict(sorted(found.items()))


def _number(value: Any, where: str) -> float:
    plain = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not plain or not math.isfinite(value) or value < 0:
        raise FieldError(where, f"{shortened(str(value))} is not a price", expected=_PRICE)
    return float(value)


def _price(value: Any, where: str) -> tuple[float, str]:
    """Price of one with no unit, or of a unit."""
    if isinstance(value, str):
        amount, slash, unit = value.partition("/")
        try:
            if slash and unit.strip():
                return _number(float(amount), where), unit.strip()
        except ValueError:
            pass
    return _number(value, where), ""


def _rate(value: Any, where: str) -> tuple[float, str]:
    """Rate of an amendment and the unit that it is in."""
    for unit in _RATES:
        try:
            return _size(value, unit, where, needed=False), unit
        except UnitError:
            continue
    raise UnitError(
        where,
        f"{shortened(str(value))} is not a rate",
        expected='mass over volume or area, or volume over volume, such as "4 kg/m3", "100 g/m2", '
        '"4 mL/L"',
    )
