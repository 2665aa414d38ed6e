"""One template's words as the reader meets them: which keys a block's words belong to, and what its numbers may be."""

from __future__ import annotations

from heldtrue.program.dialect import Dialect
from heldtrue.program.words import ALLOWED, Word, code, phrase, words_of


class Vocabulary:
    """The words of a template, looked up by what stands in a block. Every ValueError names what is not known."""

    def __init__(self, dialect: Dialect) -> None:
        words, numbers = dialect.words, dialect.numbers
        self.numbers = numbers
        self.unit = "inch" if numbers.unit == "inch" else "metric"
        self.x_scale = numbers.x_scale
        self.bends = ("I", "K") if numbers.arcs == "IK" else (numbers.arcs,)
        self._phrases = {key: phrase(getattr(words, key)) for key in ALLOWED if getattr(words, key)}
        self._phrases.update({f"gear {i}": (code(w),) for i, w in enumerate(_each(words.passed_over))})
        self._by_code = {
            next((one for one in said if _is_code(one)), said[0].split("$")[0]): key
            for key, said in self._phrases.items()
        }
        self.limit_beside_speed = "$limit" in words.surface_speed
        self.limit_address = next(
            one.split("$")[0] for key in ("limit", "surface_speed") for one in self._phrases.get(key, ())
            if "$limit" in one
        )  # fmt: skip

    def keys_of(self, words: list[Word]) -> list[str]:
        """The keys of the template that a block's words belong to, every word used up."""
        said = [code(w) if w[0] in ("G", "M") or not w[1] else w[0] for w in words]
        if len(set(said)) < len(said):
            raise ValueError(f"{next(one for one in said if said.count(one) > 1)} stands twice")
        found, left = [], list(said)
        for one in said:
            key = self._by_code.get(one) or ("tool" if one == "T" else None)
            if key is None or one not in left:
                continue
            needs = [part.split("$")[0] for part in self._phrases[key]]
            missing = [part for part in needs if part not in left]
            if missing:
                raise ValueError(f"{one} without {missing[0].rstrip('=')} beside it")
            left = [part for part in left if part not in needs]
            found.append("gear" if key.startswith("gear") else key)
        if left:
            word = next(f"{a}{v}" for (a, v), one in zip(words, said, strict=True) if one == left[0])
            raise ValueError(f"{word} is not known here; only the words of the template are read, each for its key")
        return found

    def tool_text(self, values: dict[str, str]) -> str:
        """How a tool call is told from another: its T and D."""
        for address in ("T", "D"):
            if not values.get(address, "0").isdigit():
                raise ValueError(f"{address}{values[address]} is no tool and no offset")
        return " ".join(f"{address}{values[address]}" for address in ("T", "D") if address in values)

    def length(self, address: str, text: str) -> float:
        """A length in the program's unit, with a point and no more places than the control takes."""
        if "." not in text:
            raise ValueError(f"{address}{text} has no decimal point: some controls read it as thousandths")
        places = self.numbers.x_decimals if address == "X" else self.numbers.z_decimals
        if len(text.partition(".")[2]) > places:
            raise ValueError(f"{address}{text} has more than {places} places: controls cut or refuse the rest")
        return float(text)

    def feed(self, text: str) -> float:
        """A feed in the program's unit, with a point where the template writes places."""
        if self.numbers.feed_decimals and "." not in text:
            raise ValueError(f"F{text} has no decimal point: some controls read it as thousandths")
        if float(text) <= 0:
            raise ValueError(f"F{text} must be above 0")
        return float(text)

    def speed(self, text: str) -> float:
        """A spindle speed or limit as it stands."""
        if float(text) <= 0:
            raise ValueError(f"a speed of {text} must be above 0")
        return float(text)


def _each(phrases: tuple[str, ...]) -> list[Word]:
    return [word for one in phrases for word in words_of(one)]


def _is_code(one: str) -> bool:
    return "$" not in one and one[0] in "GMD"
