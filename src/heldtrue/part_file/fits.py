"""Tolerance classes of ISO 286 as deviations: H7, h6, js9, g6, f7 and the like.

Standard tolerances and fundamental deviations of ISO 286-1 and -2 up to 500 mm: from memory.
"""

from __future__ import annotations

import re
from bisect import bisect_left

UP_TO_MM = (3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0, 180.0, 250.0, 315.0, 400.0, 500.0)
GRADES_UM: dict[int, tuple[int, ...]] = {
    4: (3, 4, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20),
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
    12: (100, 120, 150, 180, 210, 250, 300, 350, 400, 460, 520, 570, 630),
    13: (140, 180, 220, 270, 330, 390, 460, 540, 630, 720, 810, 890, 970),
}
OFF_UM: dict[str, tuple[int, ...]] = {
    "h": (0,) * 13,
    "g": (2, 4, 5, 6, 7, 9, 10, 12, 14, 15, 17, 18, 20),
    "f": (6, 10, 13, 16, 20, 25, 30, 36, 43, 50, 56, 62, 68),
    "e": (14, 20, 25, 32, 40, 50, 60, 72, 85, 100, 110, 125, 135),
    "d": (20, 30, 40, 50, 65, 80, 100, 120, 145, 170, 190, 210, 230),
}


def deviations(zone: str, diameter: float) -> tuple[float, float] | None:
    """Lower and upper deviation of a class such as ``H7`` (hole) or ``h6`` (shaft) at a diameter. [mm]

    ``None`` for a class or a size that is not in the tables.
    """
    found = re.fullmatch(r"([A-Za-z]{1,2})(\d{1,2})", zone.strip())
    if found is None or not 0 < diameter <= UP_TO_MM[-1]:
        return None
    letter, row = found.group(1), bisect_left(UP_TO_MM, diameter)
    grade = GRADES_UM.get(int(found.group(2)))
    if grade is None:
        return None
    width = grade[row] / 1000.0
    if letter.lower() == "js":
        return -width / 2, width / 2
    off = OFF_UM.get(letter.lower())
    if off is None:
        return None
    near = off[row] / 1000.0
    return (near, near + width) if letter.isupper() else (-near - width, -near)
