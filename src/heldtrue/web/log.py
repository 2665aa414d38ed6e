"""What the server says of itself: whatever a browser sent, a line stays a line, and a flood becomes a count."""

from __future__ import annotations

import logging
import re
import sys
from collections.abc import Callable
from time import monotonic
from typing import TextIO

LONGEST = 400
"""Letters of one line."""
MOST_LINES = 60
"""Lines of one record: a traceback has this many at most, its end being what matters."""
WINDOW = 60.0
"""Over this long lines are counted, s."""
MOST_EQUAL, MOST_OF_PAGES, MOST = 3, 20, 200
"""Records in one window: of those that are equal, of what pages say, and of all others."""
TELLING = 60
"""Letters by which records are equal: what a browser put behind them does not make another of them."""
STRANGE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""Control characters: they would end the line, colour the screen, or turn the words round."""

NUMBERS = re.compile(r"\d+")


def one_line(text: str, longest: int = LONGEST) -> str:
    """The text on one line, every control character spelled out, no longer than ``longest`` letters."""
    kept = STRANGE.sub(lambda found: found[0].encode("unicode_escape").decode(), text[: longest + 1])
    return kept if len(kept) <= longest else f"{kept[: longest - 4]} ..."


class TameFormatter(logging.Formatter):
    """A record on one line; the lines of a traceback are set in, so that none can be taken for a record."""

    def format(self, record: logging.LogRecord) -> str:
        """The record, without the end of its last line."""
        head = one_line(f"{record.levelname}: {_said(record)}")
        if not record.exc_info or record.exc_info[0] is None:
            return head
        # A new line in the words of an error begins a line of the traceback: it is set in with the others.
        lines = re.split(r"\r\n|[\n\r\v\f\x1c-\x1e\x85\u2028\u2029]", self.formatException(record.exc_info))
        if len(lines) > MOST_LINES:
            lines = [lines[0], "...", *lines[-MOST_LINES:]]
        return "\n".join([head, *(f"    {one_line(line)}" for line in lines)])


class TameHandler(logging.StreamHandler[TextIO]):
    """Writes a bounded number of records in each window, and says how many it left out. ``clock`` is for tests."""

    def __init__(self, stream: TextIO | None = None, clock: Callable[[], float] = monotonic) -> None:
        super().__init__(stream or sys.stderr)
        self.setFormatter(TameFormatter())
        self._clock, self._since = clock, clock()
        self._equal: dict[str, int] = {}
        self._said = {True: 0, False: 0}
        self._left_out = 0

    def emit(self, record: logging.LogRecord) -> None:
        """Write it, or count it."""
        if self._clock() - self._since >= WINDOW:
            self._turn_over()
        page, key = _of_a_page(record), _telling(record)
        times = self._equal.get(key, 0)
        if times >= MOST_EQUAL or self._said[page] >= (MOST_OF_PAGES if page else MOST):
            self._left_out += 1
            return
        self._equal[key] = times + 1
        self._said[page] += 1
        super().emit(record)

    def _turn_over(self) -> None:
        left, self._left_out, self._since = self._left_out, 0, self._clock()
        self._equal, self._said = {}, {True: 0, False: 0}
        if left:
            words = f"{left} more lines were left out: the same again, or too many"
            super().emit(logging.LogRecord("heldtrue.web", logging.WARNING, __file__, 0, words, (), None))

    def close(self) -> None:
        """Say what was left out last."""
        if self._left_out:
            self._turn_over()
        super().close()


def tame() -> None:
    """Let everything that is said in this process go that way, the libraries' own words too."""
    logging.basicConfig(handlers=[TameHandler()], level=logging.WARNING, force=True)
    logging.captureWarnings(True)


def _of_a_page(record: logging.LogRecord) -> bool:
    """Did a browser send it? The library writes down whatever a page wants to be written down."""
    return record.funcName == "handle_log_message"


def _telling(record: logging.LogRecord) -> str:
    """By what it is the same as another: where an error came from, or how its words begin but for their numbers."""
    error = record.exc_info[1] if record.exc_info else None
    if error is None:
        return f"{record.name} {NUMBERS.sub('#', _said(record)[:TELLING])}"
    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    where = "" if place is None else f"{place.tb_frame.f_code.co_filename}:{place.tb_lineno}"
    return f"{record.name} {type(error).__name__} {where}"


def _said(record: logging.LogRecord) -> str:
    try:
        words = record.getMessage()
    except Exception:  # noqa: BLE001  words that do not fit their form are said as they are
        words = str(record.msg)
    return f"a page says: {words}" if _of_a_page(record) else words
