"""Which words a program may have, and what each is for: the one list that templates and the reader are held to.

A word is an address and a number (``G96``, ``X12.5``, ``LIMS=2000``) or a name (``DIAMON``).  G, M and address words of
ISO 6983-1; limits, reference points and named words: common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata

Word = tuple[str, str]

MOTIONS = {"G0": "rapid", "G1": "line", "G2": "clockwise", "G3": "counter-clockwise"}
NAMED = ("DIAMON", "DIAMOF")
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"
_WORD = re.compile(rf"([A-Z]{{2,}})=({_NUMBER})|({'|'.join(NAMED)})(?![A-Z0-9=])|([A-Z]) *({_NUMBER})")
_PHRASE = re.compile(
    rf"([A-Z]{{2,}}=|[A-Z]) *((?:\${{?[a-z_]+}}?)+|{_NUMBER})|({'|'.join(NAMED)})(?![A-Z0-9=])"  # $name or a number
)

ALLOWED: dict[str, tuple[str, ...]] = {
    "metric": ("G21", "G71"),
    "inch": ("G20", "G70"),
    "plane": ("", "G18"),
    "absolute": ("", "G90"),
    "diameter": ("", "G7", "DIAMON", "G8", "DIAMOF"),
    "no_compensation": ("G40",),
    "feed_per_turn": ("G95", "G99"),
    "limit": ("", "G92 S$limit", "G50 S$limit", "LIMS=$limit"),
    "surface_speed": ("G96 S$speed", "G96 S$speed D$limit", "G96 S$speed LIMS=$limit"),
    "fixed_speed": ("G97 S$speed",),
    "spindle_on": ("M3", "M4"),
    "spindle_off": ("M5",),
    "tool": ("T$tool$offset", "T$tool D$offset", "T$tool$offset M6", "T$tool M6", "T$tool D$offset M6"),
    "work_offset": ("", "G54", "G55", "G56", "G57", "G58", "G59"),
    "coolant_on": ("", "M7", "M8"),
    "coolant_off": ("", "M9"),
    "stop": ("M0",),
    "end": ("M2", "M30"),
}
"""The phrases each key of a template may hold, in any order of their words."""
PASSED_OVER = ("M40", "M41", "M42", "M43", "M44")
"""Words that may be passed over: gear ranges of the spindle."""
GROUPS: dict[str, str] = {
    "metric": "unit", "inch": "unit", "plane": "plane", "absolute": "kind of position", "diameter": "kind of X",
    "no_compensation": "compensation", "feed_per_turn": "kind of feed", "surface_speed": "kind of speed",
    "fixed_speed": "kind of speed", "spindle_on": "spindle", "spindle_off": "spindle", "coolant_on": "coolant",
    "coolant_off": "coolant", "work_offset": "work offset", "gear": "gear",
}  # fmt: skip
"""The modal group of each key whose words may share a block; the others stand alone in theirs."""
_POINTED = r"[+-]?\d+\.\d*"
_RETREATS = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?:G53 G0|G0 G53)(?: X{_POINTED})?(?: Z{_POINTED})?",
        r"G28(?: U0\.?0*)?(?: W0\.?0*)?",
        r"G75(?: X0\.?0*)?(?: Z0\.?0*)?",
        r"G91 G28(?: X0\.?0*)?(?: Z0\.?0*)?",
    )
)


def words_of(text: str) -> list[Word]:
    """The words of a block as address and number text, ``("G", "01")``; ValueError names what is none."""
    found, at = [], 0
    for match in _WORD.finditer(text):
        if text[at : match.start()].strip(" "):
            break
        if match[1]:
            found.append((f"{match[1]}=", match[2]))
        elif match[3]:
            found.append((match[3], ""))
        else:
            found.append((match[4], match[5]))
        at = match.end()
    rest = text[at:].strip(" ")
    if rest:
        raise ValueError(f'"{rest.split(" ")[0]}" is no word')
    return found


def code(word: Word) -> str:
    """A G, M or named word without zeros before its number: ``G1`` of ``G01``."""
    address, number = word
    if address not in ("G", "M"):
        return address + number
    if not number.isdigit() or len(number) > 3:
        raise ValueError(f"{address}{number} is not known")
    return f"{address}{int(number)}"


def phrase(text: str) -> tuple[str, ...]:
    """The words of a template's phrase, sorted, ``("G96", "S$speed")``; ValueError where something is no word."""
    found, at = [], 0
    for match in _PHRASE.finditer(text):
        if text[at : match.start()].strip(" "):
            raise ValueError(text[at : match.start()].strip())
        if match[3]:
            found.append(match[3])
        elif "$" in match[2]:
            found.append(match[1] + re.sub(r"[{}]", "", match[2]))
        else:
            found.append(code((match[1], match[2])))
        at = match.end()
    if text[at:].strip(" "):
        raise ValueError(text[at:].strip())
    return tuple(sorted(found))


def allowed(key: str, text: str) -> bool:
    """Whether a template's key may hold this phrase."""
    try:
        return phrase(text) in [phrase(one) for one in ALLOWED[key]]
    except ValueError:
        return False


def block(text: str) -> tuple[str, ...]:
    """A block of a retreat, word for word, codes without zeros before their numbers."""
    return tuple(code(word) for word in words_of(text))


def is_retreat(blocks: tuple[str, ...]) -> bool:
    """Whether blocks together bring the tool to the machine's own far point, in X and in Z, and leave no other mode."""
    try:
        said = [block(one) for one in blocks]
    except ValueError:
        return False
    incremental, axes = False, ""
    for words in said:
        if incremental and words == ("G90",):
            incremental = False
            continue
        line = " ".join(words)
        here = [w[0] for w in words if w[0] not in "GM"]
        if incremental and "G91" not in words:
            return False
        if not here or not any(one.fullmatch(line) for one in _RETREATS) or set(here) & set(axes):
            return False
        incremental = incremental or "G91" in words
        axes += "".join(here)
    return not incremental and sorted(axes.replace("U", "X").replace("W", "Z")) == ["X", "Z"]


PROBE_NEEDS = ("size", "z", "most", "offset")
"""What a probing cycle must be told: the size it should find, where, how much it may correct, and which offset."""
PROBE_MAY = (*PROBE_NEEDS, "tool", "jaws")
_PROBE = re.compile(r"G65 P([1-9][0-9]{0,4})((?: [ABCDEHQV]\$(?:\{[a-z]+\}|[a-z]+))+)")
"""A macro call with letters that mean no motion, no speed and no tool, even to a control that does not know it."""


def probe_call(text: str) -> tuple[str, tuple[tuple[str, str], ...]] | None:
    """Number of the macro and its letters with what each is told, of a template's probing cycle; None for no such call.

    Each name once, each letter once, and nothing that it needs left out.
    """
    found = _PROBE.fullmatch(text)
    if found is None:
        return None
    pairs = tuple((one[0], one[2:].strip("{}")) for one in found[2].split())
    letters, names = [letter for letter, _ in pairs], [name for _, name in pairs]
    twice = len(set(letters)) < len(letters) or len(set(names)) < len(names)
    if twice or not set(PROBE_NEEDS) <= set(names) <= set(PROBE_MAY):
        return None
    return found[1], pairs


def strange_character(line: str) -> str | None:
    """The first character no program may have, by its name; None where all are plain."""
    for character in line:
        if not " " <= character <= "~":
            name = unicodedata.name(character, f"character {ord(character)}")
            return name.lower().replace("character tabulation", "tabulator")
    return None
