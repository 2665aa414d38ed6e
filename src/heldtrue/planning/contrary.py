"""What the shop's records say against a job: no plan of it is proven, and nothing starts, while there is any."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

What = Literal["chuck", "jaws", "machine", "part", "clock"]


@dataclass(frozen=True)
class Contrary:
    """One thing that the records say against a job: ``what`` it is about, the ``words``, and what to ``do``."""

    what: What
    words: str
    do: str

    @property
    def sentence(self) -> str:
        """Both in one."""
        return f"{self.words}: {self.do}" if self.do else self.words
