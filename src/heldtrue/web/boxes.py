"""Boxes to type in: what was typed stays as typed, the unit of a bare number stands in the box, both units below it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.quantities import UnitSystem, bare_unit, format_quantity, names_unit, parse_quantity
from heldtrue.shop.typed import typed_diameter
from heldtrue.web import texts


def offer(entry: ui.input, words: Sequence[str]) -> ui.html:
    """Put the list on the page that the browser offers words from."""
    # Nothing to see: it must take no place among the boxes.
    return ui.html(offered_words(entry, words), sanitize=False).style("display: none")


def offered_words(entry: ui.element, words: Sequence[str]) -> str:
    """That list; an input looks for it under this name."""
    options = "".join(f'<option value="{escape(word)}"></option>' for word in words)
    return f'<datalist id="c{entry.id}-datalist">{options}</datalist>'


class TextBox:
    """Words; ``mark``: its name for tests; ``offered`` by the browser while one types, anything else may be typed."""

    def __init__(
        self, words: str, mark: str, *, value: str = "", hint: str = "", most: int = 200, offered: Sequence[str] = (),
    ) -> None:  # fmt: skip
        self.words = words
        self.box = ui.input(words, value=value).props(f"outlined stack-label maxlength={most}").mark(mark)
        if hint:
            self.box._props["hint"] = hint
        if offered:
            offer(self.box, offered)

    def text(self) -> str:
        """What was typed, without blanks round it."""
        return str(self.box.value or "").strip()

    def need(self) -> str:
        """The same. Raises: ``InputError`` where there is none."""
        if not self.text():
            raise InputError(texts.NEEDED.format(what=self.words))
        return self.text()

    def clear(self) -> None:
        """Empty it."""
        self.box.value = ""


class WholeBox(TextBox):
    """A whole number of 0 or more."""

    def __init__(self, words: str, mark: str, *, value: str = "") -> None:
        super().__init__(words, mark, value=value, most=9)
        self.box.props('inputmode="numeric"')

    def number(self, otherwise: int = 0) -> int:
        """The number, ``otherwise`` where nothing was typed. Raises: ``InputError``."""
        if not self.text():
            return otherwise
        if not self.text().isdecimal():
            raise InputError(texts.A_WHOLE_NUMBER.format(what=self.words, typed=self.text()))
        return int(self.text())


class NumberBox(TextBox):
    """A number of a ``kind`` of ``heldtrue.quantities``; ``unit`` of a bare number where it is not that of the system.

    ``kind`` "diameter" is a length that may have its sign, and is no radius.
    """

    def __init__(
        self, words: str, mark: str, kind: str, system: UnitSystem = "metric", *, unit: str = "", value: str = "",
        hint: str = "",
    ) -> None:  # fmt: skip
        super().__init__(words, mark, value=value, hint=hint, most=40)
        self.kind, self.system, self.hint = ("length" if kind == "diameter" else kind), system, hint
        self.is_diameter = kind == "diameter"
        self.unit = unit or bare_unit(self.kind, system)
        self.box.props('inputmode="decimal"')
        self.box._props["suffix"] = self.unit
        self.box.on_value_change(self._show)

    def full(self) -> str:
        """What was typed, a bare number in the unit that the box shows."""
        text = self.text()
        return text if not text or not self.unit or names_unit(text.strip("Øø⌀Φ")) \
            else f"{text} {self.unit}"  # fmt: skip

    def value(self) -> float | None:
        """The number [core], None where nothing was typed. Raises: ``InputError``."""
        if not self.text():
            return None
        try:
            if self.is_diameter:
                return typed_diameter(self.full(), self.system)
            return parse_quantity(self.full(), self.kind, self.system)
        except InputError as error:
            raise InputError(texts.A_NUMBER.format(what=self.words, why=error)) from error

    def needed(self) -> float:
        """The same. Raises: ``InputError`` also where nothing was typed."""
        self.need()
        found = self.value()
        assert found is not None
        return found

    def tell(self, hint: str) -> None:
        """Another hint, for as long as nothing is typed."""
        self.hint = hint
        self._show()

    def _show(self) -> None:
        value, self.box.error = None, None
        try:
            value = self.value()
        except InputError as error:
            self.box.error = str(error)
        told = "" if value is None else self._both(value)
        self.box._props["hint"] = told or self.hint
        self.box.update()

    def _both(self, value: float) -> str:
        first = format_quantity(value, self.kind, unit=self.unit or None)
        other: UnitSystem = "inch" if self.system == "metric" else "metric"
        second = format_quantity(value, self.kind, other)
        return first if first == second else f"{first} = {second}"
