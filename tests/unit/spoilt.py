"""Programs with one thing wrong: every kind of slip, attack and lost character that a text can come back with.

``KINDS`` by name: from a text, every (line, changed text) of that kind.  Those in ``NEVER`` are wrong wherever they
strike; of the others some are harmless, which the second reader decides.
"""

from __future__ import annotations

import re
from itertools import pairwise

MOVE = re.compile(r"^G0?[0123] ")


def changed(text, pattern, change):
    """A text for every match of ``pattern`` outside comments, with the match changed."""
    lines, found = text.split("\n"), []
    for i, line in enumerate(lines):
        for match in re.finditer(pattern, re.split(r"[(;]", line)[0]):
            new = change(match)
            if new is not None and new != match[0]:
                new = line[: match.start()] + new + line[match.end() :]
                found.append((i, "\n".join([*lines[:i], new, *lines[i + 1 :]])))
    return found


def instead(new):
    return lambda match: new


def scaled(factor):
    def change(match):
        value, places = float(match[2]), len(match[2].partition(".")[2])
        return None if value == 0 else f"{match[1]}{value * factor:.{places}f}"

    return change


def shifted(by):
    return lambda match: f"{match[1]}{float(match[2]) + by:.{len(match[2].partition('.')[2])}f}"


def without(text, pattern):
    """A text for every line that matches, without it."""
    lines = text.split("\n")
    return [(i, "\n".join(lines[:i] + lines[i + 1 :])) for i, line in enumerate(lines) if re.search(pattern, line)]


def twice(text, pattern):
    lines = text.split("\n")
    return [(i, "\n".join([*lines[:i], line, *lines[i:]])) for i, line in enumerate(lines) if re.search(pattern, line)]


def inserted(text, new, where=r"^G[0-9]"):
    """A text for every line that matches, with ``new`` as a line before it."""
    lines = text.split("\n")
    return [(i, "\n".join([*lines[:i], new, *lines[i:]])) for i, line in enumerate(lines) if re.search(where, line)]


def behind(text, new, where=MOVE):
    """A text for every line that matches, with more at its end."""
    lines = text.split("\n")
    return [
        (i, "\n".join([*lines[:i], line + new, *lines[i + 1 :]]))
        for i, line in enumerate(lines)
        if re.search(where, line)
    ]


def swapped_lines(text):
    lines = text.split("\n")
    return [
        (i, "\n".join([*lines[:i], b, a, *lines[i + 2 :]])) for i, (a, b) in enumerate(pairwise(lines)) if a != b and b
    ]


def cut_off(text, end=""):
    lines = text.split("\n")
    last = max(i for i, line in enumerate(lines) if line.startswith("G1"))
    return [(i, "\n".join(lines[:i]) + end) for i in range(1, last)]


def everywhere(text, pattern, new):
    """One text with every match changed."""
    return [(0, re.sub(pattern, new, text, flags=re.MULTILINE))]


def parts_of(text):
    return re.split(r"^(?=N\d+ [(;])", text, flags=re.MULTILINE)


def parts_missing(text):
    head, *parts = parts_of(text)
    return [(0, "".join([head, *parts[:i], *parts[i + 1 :]])) for i in range(len(parts) - 1)]


def parts_swapped(text):
    head, *parts = parts_of(text)
    return [(0, "".join([head, *parts[:i], parts[i + 1], parts[i], *parts[i + 2 :]])) for i in range(len(parts) - 2)]


def after_a_title(found, text, title):
    lines = text.split("\n")
    start = next(i for i, line in enumerate(lines) if line.endswith(title))
    return [(i, t) for i, t in found if i > start]


def finish(found, text):
    return after_a_title(found, text, "FINISH)" if "FINISH)" in text else "FINISH")


def digits(text):
    """One digit of a number in a move changed, every digit in turn, to the next one."""
    lines, found = text.split("\n"), []
    for i, line in enumerate(lines):
        if MOVE.search(line):
            for at in range(3, len(line)):
                if line[at].isdigit():
                    new = line[:at] + str((int(line[at]) + 3) % 10) + line[at + 1 :]
                    found.append((i, "\n".join([*lines[:i], new, *lines[i + 1 :]])))
    return found


def signs_lost(text):
    """One character of a block lost, every one in turn."""
    lines, found = text.split("\n"), []
    for i, line in enumerate(lines):
        if line and line[0] not in "(;%":
            found += [
                (i, "\n".join([*lines[:i], line[:at] + line[at + 1 :], *lines[i + 1 :]])) for at in range(len(line))
            ]
    return found


XZ, X, Z, F = r"([XZ])(-?[\d.]+)", r"(X)(-?[\d.]+)", r"(Z)(-?[\d.]+)", r"(F)([\d.]+)"
R = r"(R|CR=)([\d.]+)"
OTHER_UNIT = {"20": "21", "21": "20", "70": "71", "71": "70"}
LIMIT = r"(G92 S|G50 S|LIMS=)(\d+)"

NEVER = {
    "a shift instead of a move": lambda t: changed(t, r"^G0 (Z-?[\d.]+)$", lambda m: f"G92 S2000 {m[1]}"),
    "a shift beside a move": lambda t: changed(t, r"^G0 (?=[XZ])", instead("G0 G92 S2000 ")),
    "G92 with a place": lambda t: inserted(t, "G92 X80. Z50.", MOVE),
    "G50 with a place": lambda t: inserted(t, "G50 X80. Z50.", MOVE),
    "G10": lambda t: inserted(t, "G10 L2 P1 X0. Z-5."),
    "G52": lambda t: inserted(t, "G52 Z-5."),
    "G68": lambda t: inserted(t, "G68 X0. Z0. R5."),
    "incremental": lambda t: inserted(t, "G91", MOVE),
    "compensation on": lambda t: inserted(t, "G41"),
    "compensation in a move": lambda t: changed(t, r"^G1 ", instead("G41 G1 ")),
    "a reference point in the way": lambda t: inserted(t, "G28 X0. Z0."),
    "machine coordinates": lambda t: changed(t, r"^G0 ", instead("G53 G0 ")),
    "another offset": lambda t: changed(t, "G54", instead("G55")),
    "an offset away from home": lambda t: inserted(t, "G54", r"^G1 "),
    "a call": lambda t: inserted(t, "M98 P100"),
    "a macro": lambda t: inserted(t, "#100=5."),
    "a jump": lambda t: inserted(t, "GOTO 100"),
    "back to the caller": lambda t: changed(t, "M30", instead("M99")),
    "stops with the spindle turning": lambda t: inserted(t, "M0", MOVE),
    "spindle on before it stops": lambda t: inserted(t, "M3", r"^M0"),
    "no spindle off": lambda t: without(t, r"^M5"),
    "spindle off in a cut": lambda t: inserted(t, "M5", r"^G1 "),
    "spindle the other way": lambda t: changed(t, r"M3\b", instead("M4")),
    "spindle not started": lambda t: changed(t, r" M3\b", instead("")),
    "no fixed speed": lambda t: without(t, r"^G97 S\d+ M3"),
    "surface speed at the start": lambda t: changed(t, r"G97 S\d+ M3", instead("G96 S100 M3")),
    "no surface speed": lambda t: without(t, r"^G96"),
    "surface speed as turns": lambda t: changed(t, r"G96", instead("G97")),
    "surface speed twice": lambda t: changed(t, r"(G96 S)(\d+)", lambda m: f"{m[1]}{2 * int(m[2])}"),
    "surface speed a tenth": lambda t: changed(t, r"(G96 S)(\d+)", lambda m: f"{m[1]}{int(m[2]) // 10}"),
    "fixed speed as high as it goes": lambda t: changed(t, r"(G97 S)(\d+)(?= M3)", instead("G97 S9999")),
    "no limit": lambda t: without(t, r"^(G92|G50|LIMS)"),
    "limit too high": lambda t: changed(t, LIMIT, lambda m: f"{m[1]}{int(m[2]) + 10}"),
    "limit ten times": lambda t: changed(t, LIMIT, lambda m: f"{m[1]}{m[2]}0"),
    "no stop": lambda t: without(t, r"^M0\b"),
    "another size to measure": lambda t: everywhere(t, r"(MEASURE NEAR THE SEAT: DIA \d)", r"\g<1>1"),
    "size to measure lost": lambda t: everywhere(t, r"MEASURE NEAR THE SEAT: DIA [\d.]+", "MEASURE"),
    "a stop that can be switched off": lambda t: changed(t, r"^M0\b", instead("M1")),
    "no end": lambda t: without(t, r"^M30"),
    "an end too early": lambda t: inserted(t, "M30", MOVE),
    "more after the end": lambda t: [(0, t.replace("M30\n", "M30\nG0 X0.000\n"))],
    "words after the end": lambda t: [(0, t.replace("M30\n", "M30\n(AND MORE)\n"))],
    "other tool": lambda t: changed(t, r"T(\d\d)", lambda m: f"T{int(m[1]) + 1:02d}"),
    "other tool offset": lambda t: changed(t, r"(T\d\d|D)(\d\d)$", lambda m: f"{m[1]}{int(m[2]) + 1:02d}"),
    "tool changed inside": lambda t: inserted(t, "T0101", r"^G1 "),
    "no tool": lambda t: without(t, r"^T"),
    "no offset": lambda t: without(t, r"^G54"),
    "no unit": lambda t: everywhere(t, r"^G(20|21|70|71) ", ""),
    "the other unit": lambda t: everywhere(t, r"^G(20|21|70|71) ", lambda m: f"G{OTHER_UNIT[m[1]]} "),
    "no plane": lambda t: [(0, t.replace("G18 ", ""))],
    "other plane": lambda t: changed(t, "G18", instead("G17")),
    "compensation not off": lambda t: [(0, t.replace("G40 ", ""))],
    "feed per minute": lambda t: changed(t, r"G95|G99", lambda m: {"G95": "G94", "G99": "G98"}[m[0]]),
    "feed per minute in a part": lambda t: inserted(t, "G94", r"^G96"),
    "no feed kind": lambda t: [(0, re.sub(r" G9[59]", "", t))],
    "feeds lost": lambda t: [(0, re.sub(r" F[\d.]+", "", t))],
    "feed lost": lambda t: changed(t, r" F[\d.]+", instead("")),
    "feed times ten": lambda t: changed(t, F, scaled(10)),
    "feed a tenth": lambda t: changed(t, F, scaled(0.1)),
    "feed without its point": lambda t: changed(t, F, lambda m: "F1"),
    "no way home": lambda t: without(t, r"^(G28|G75|G91 G28)"),
    "half a way home": lambda t: changed(t, r"^G28 W0\.$|^G75 Z0\.$|^G91 G28 Z0\.$", instead("G28 U5.")),
    "home by the wrong words": lambda t: changed(t, r"^(G28|G75|G91 G28).*", instead("G0 X300. Z300.")),
    "in by both ways at once": lambda t: everywhere(t, r"^(G0 Z[\d.]+)\nG0 (X[\d.]+)\nG96", r"\1 \2\nG96"),
    "in by X first": lambda t: everywhere(t, r"^(G0 Z[\d.]+)\n(G0 X[\d.]+)\nG96", r"\2\n\1\nG96"),
    "in too deep": lambda t: everywhere(t, r"^G0 Z[\d.]+\n(G0 X[\d.]+)\nG96", r"G0 Z-5.\n\1\nG96"),
    "sign of X": lambda t: changed(t, X, scaled(-1)),
    "every X as a radius": lambda t: [(0, re.sub(X, scaled(0.5), t))],
    "every X twice": lambda t: [(0, re.sub(X, scaled(2), t))],
    "finish as a rapid": lambda t: finish(changed(t, r"^G1\b(?= (X|Z-))", instead("G0")), t)[1:],
    "long way round": lambda t: changed(t, R, lambda m: f"{m[1]}-{m[2]}"),
    "arc without a radius": lambda t: changed(t, f" {R}", instead("")),
    "arc radius a fifth": lambda t: changed(t, R, scaled(0.2)),
    "point lost": lambda t: changed(t, r"([XZ]|R|CR=)(-?\d+)\.(\d+)", lambda m: f"{m[1]}{m[2]}{m[3]}"),
    "one place more": lambda t: changed(t, r"([XZ]-?\d+\.\d+)", lambda m: f"{m[1]}4"),
    "percent in the middle": lambda t: inserted(t, "%", MOVE),
    "percent in a block": lambda t: behind(t, " %"),
    "program number in the middle": lambda t: inserted(t, "O0002", MOVE),
    "digit of another script": lambda t: changed(t, r"(\d)(?=\.)", lambda m: chr(0x660 + int(m[1]))),
    "full-width digit": lambda t: changed(t, r"(\d)(?=\.)", lambda m: chr(0xFF10 + int(m[1]))),
    "space that is none": lambda t: changed(t, " (?=[XZ])", instead("\u00a0")),
    "minus that is none": lambda t: changed(t, "-(?=\\d)", instead("\u2212")),
    "tabulator": lambda t: changed(t, " (?=[XZ])", instead("\t")),
    "form feed": lambda t: behind(t, "\x0c"),
    "line separator": lambda t: behind(t, "\u2028G0 Z-50."),
    "bare return": lambda t: behind(t, "\rG0 Z-50."),
    "code before the end of a comment": lambda t: inserted(t, "(A) G0 Z-50.", MOVE),
    "comment not closed": lambda t: behind(t, " (OPEN"),
    "comment in a comment": lambda t: behind(t, " (A (B) C)"),
    "block to be skipped": lambda t: changed(t, r"^(?=G[01])", instead("/")),
    "small letters": lambda t: changed(t, r"^G[01] \S+", lambda m: m[0].lower()),
    "two motions": lambda t: changed(t, r"^G0 ", instead("G0 G1 ")),
    "dwell": lambda t: inserted(t, "G4 X1.", r"^G1 "),
    "a cycle": lambda t: inserted(t, "G71 U1. R1.", r"^G1 "),
    "cut off": lambda t: cut_off(t),
    "number of a part again": lambda t: [(0, t.replace("N200 ", "N100 "))],
}  # fmt: skip
"""Wrong wherever they strike: never to be proved."""

SELDOM = {
    "cut off, but ended": lambda t: cut_off(t, "\nM9\nM5\nM30\n"),
    "sign of Z": lambda t: changed(t, Z, scaled(-1)),
    "X as a radius": lambda t: changed(t, X, scaled(0.5)),
    "X twice": lambda t: changed(t, X, scaled(2)),
    "half a millimetre more": lambda t: changed(t, XZ, shifted(0.5)),
    "half a millimetre less": lambda t: changed(t, XZ, shifted(-0.5)),
    "two hundredths more": lambda t: changed(t, XZ, shifted(0.02)),
    "two hundredths less": lambda t: changed(t, XZ, shifted(-0.02)),
    "one digit": digits,
    "one sign lost": signs_lost,
    "a line lost": lambda t: without(t, r"."),
    "a line twice": lambda t: twice(t, r"."),
    "two lines swapped": swapped_lines,
    "a cut as a rapid": lambda t: changed(t, r"^G1\b", instead("G0")),
    "a rapid as a cut": lambda t: changed(t, r"^G0\b", instead("G1")),
    "an arc bent the other way": lambda t: changed(t, r"^G[23]\b", lambda m: {"G2": "G3", "G3": "G2"}[m[0]]),
    "an arc as a line": lambda t: changed(t, rf"^G[23]( .*) {R}", lambda m: f"G1{m[1]}"),
    "arc radius a tenth more": lambda t: changed(t, R, scaled(1.1)),
    "arc radius a tenth less": lambda t: changed(t, R, scaled(0.9)),
    "a part missing": parts_missing,
    "two parts swapped": parts_swapped,
    "a part's number lost": lambda t: changed(t, r"^N\d+ ", instead("")),
    "an axis lost": lambda t: changed(t, r" [XZ]-?[\d.]+", instead("")),
    "axes exchanged": lambda t: changed(t, r"^(G[01]) X(\S+) Z(\S+)", lambda m: f"{m[1]} X{m[3]} Z{m[2]}"),
    "a semicolon in a block": lambda t: changed(t, r" (?=[XZ])", instead("; ")),
    "a comment opened early": lambda t: changed(t, r" (?=[XZ])(.*)$", lambda m: f" ({m[1]})"),
    "feed half": lambda t: changed(t, F, scaled(0.5)),
    "limit half": lambda t: changed(t, LIMIT, lambda m: f"{m[1]}{int(m[2]) // 2}"),
    "coolant lost": lambda t: without(t, r"^M[89]"),
}  # fmt: skip
"""Some of these are harmless: a way back in the air, a rough cut that the finish makes good."""
KINDS = NEVER | SELDOM


def spread(found, most):
    """At most so many, evenly."""
    return found if len(found) <= most else [found[i * (len(found) - 1) // max(most - 1, 1)] for i in range(most)]
