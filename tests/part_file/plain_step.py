"""A second writer of STEP files, apart from any kernel: bodies of revolution as other programs write them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, degrees, hypot, pi, sin, sqrt

from heldtrue.part_file.outline import Arc, Line

Point = tuple[float, float]


@dataclass(frozen=True)
class Bezier:
    """A cubic curve in (r, z) that is no line and no arc."""

    start: Point
    one: Point
    two: Point
    end: Point

    def at(self, t: float) -> Point:
        s = 1 - t
        k = (s**3, 3 * s * s * t, 3 * s * t * t, t**3)
        return tuple(
            sum(a * p[i] for a, p in zip(k, (self.start, self.one, self.two, self.end), strict=True)) for i in (0, 1)
        )


@dataclass(frozen=True)
class Style:
    """How a file is written. ``surfaces``: analytic, revolved, spline; ``curves``: circle, trimmed, spline."""

    surfaces: str = "analytic"
    curves: str = "circle"
    halves: bool = True
    inch: bool = False
    degree: bool = False
    context: bool = True
    angle_said: bool = True
    x: tuple[float, float, float] = (1.0, 0.0, 0.0)
    y: tuple[float, float, float] = (0.0, 1.0, 0.0)
    z: tuple[float, float, float] = (0.0, 0.0, 1.0)
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)


TILTED = {"x": (0.8, 0.0, -0.6), "y": (0.36, 0.8, 0.48), "z": (0.48, -0.6, 0.64), "shift": (12.0, -7.5, 40.0)}


class _File:
    def __init__(self, style: Style) -> None:
        self.style, self.rows, self.known = style, [], {}

    def add(self, text: str) -> str:
        if text not in self.known:
            self.rows.append(text)
            self.known[text] = f"#{len(self.rows)}"
        return self.known[text]

    def turned(self, a) -> tuple[float, ...]:
        s = self.style
        return tuple(s.x[k] * a[0] + s.y[k] * a[1] + s.z[k] * a[2] for k in range(3))

    def length(self, value: float) -> str:
        return _n(value / 25.4 if self.style.inch else value)

    def point(self, a) -> str:
        moved = [c + s for c, s in zip(self.turned(a), self.style.shift, strict=True)]
        return self.add(f"CARTESIAN_POINT('',({','.join(self.length(c) for c in moved)}))")

    def way(self, a) -> str:
        return self.add(f"DIRECTION('',({','.join(_n(c) for c in self.turned(a))}))")

    def frame(self, origin, z=(0, 0, 1), x=(1, 0, 0)) -> str:
        return self.add(f"AXIS2_PLACEMENT_3D('',{self.point(origin)},{self.way(z)},{self.way(x)})")


def _n(value: float) -> str:
    text = repr(round(value, 13) + 0.0)
    return text if "e" not in text else text.upper().replace("E", ".E") if "." not in text else text.upper()


def write(pieces: Sequence[Line | Arc | Bezier], style: Style = Style(), extra: str = "") -> bytes:
    """The body that the pieces enclose, walked with the material on the left, as a STEP file."""
    f = _File(style)
    turns = ((0.0, pi), (pi, 2 * pi)) if style.halves else ((0.0, 2 * pi),)
    faces = []
    for piece in pieces:
        if abs(piece.start[0]) < 1e-9 and abs(piece.end[0]) < 1e-9 and isinstance(piece, Line):
            continue
        for a, b in turns:
            faces.append(_face(f, piece, a, b))
    shell = f.add(f"CLOSED_SHELL('',({','.join(faces)}))")
    solid = f.add(f"MANIFOLD_SOLID_BREP('body',{shell})")
    if style.context:
        _context(f, solid)
    rows = "\n".join(f"#{k}={row};" for k, row in enumerate(f.rows, 1))
    head = "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nENDSEC;\nDATA;\n"
    return f"{head}{rows}\n{extra}ENDSEC;\nEND-ISO-10303-21;\n".encode()


def _context(f: _File, solid: str) -> None:
    unit = f.add("(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.))")
    if f.style.inch:
        measure = f.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),{unit})")
        unit = f.add(f"(CONVERSION_BASED_UNIT('INCH',{measure}) LENGTH_UNIT() NAMED_UNIT(*))")
    angle = f.add("(NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.))")
    if f.style.degree and f.style.angle_said:
        measure = f.add(f"PLANE_ANGLE_MEASURE_WITH_UNIT(PLANE_ANGLE_MEASURE(0.0174532925199433),{angle})")
        angle = f.add(f"(CONVERSION_BASED_UNIT('DEGREE',{measure}) NAMED_UNIT(*) PLANE_ANGLE_UNIT())")
    context = f.add(
        f"(GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNIT_ASSIGNED_CONTEXT(({unit},{angle})) "
        "REPRESENTATION_CONTEXT('',''))"
    )
    f.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({solid}),{context})")


def _face(f: _File, piece, a: float, b: float) -> str:
    p, q = piece.start, piece.end
    surface, sense = _surface(f, piece, a, b)
    bounds = []
    if f.style.halves:
        loop = [_meridian(f, piece, b, True)]
        loop += [_circle(f, q, a, b, False)] if q[0] > 1e-9 else []
        loop += [_meridian(f, piece, a, False)]
        loop += [_circle(f, p, a, b, True)] if p[0] > 1e-9 else []
        bounds.append(f.add(f"FACE_OUTER_BOUND('',{_loop(f, loop)},.T.)"))
    else:
        for end, forward in ((q, False), (p, True)):
            if end[0] > 1e-9:
                bounds.append(f.add(f"FACE_BOUND('',{_loop(f, [_circle(f, end, a, b, forward)])},.T.)"))
            elif not isinstance(piece, Line) or piece.start[1] != piece.end[1]:
                loop = f.add(f"VERTEX_LOOP('',{_vertex(f, end, 0.0)})")
                bounds.append(f.add(f"FACE_BOUND('',{loop},.T.)"))
    return f.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},.{'T' if sense else 'F'}.)")


def _loop(f: _File, edges) -> str:
    return f.add(f"EDGE_LOOP('',({','.join(edges)}))")


def _space(point: Point, angle: float) -> tuple[float, float, float]:
    return point[0] * cos(angle), point[0] * sin(angle), point[1]


def _vertex(f: _File, point: Point, angle: float) -> str:
    return f.add(f"VERTEX_POINT('',{f.point(_space(point, angle if point[0] > 1e-9 else 0.0))})")


def _oriented(f: _File, edge: str, forward: bool) -> str:
    return f.add(f"ORIENTED_EDGE('',*,*,{edge},.{'T' if forward else 'F'}.)")


def _circle(f: _File, at: Point, a: float, b: float, forward: bool) -> str:
    frame = f.frame((0, 0, at[1]))
    curve = f.add(f"CIRCLE('',{frame},{f.length(at[0])})")
    if f.style.curves == "trimmed":
        curve = f.add(
            f"TRIMMED_CURVE('',{curve},({f.point(_space(at, a))}),({f.point(_space(at, b))}),.T.,.CARTESIAN.)"
        )
    elif f.style.curves == "spline":
        poles, weights, knots = _ring(at, a, b)
        curve = _spline_curve(f, 2, [f.point(p) for p in poles], weights, knots)
    edge = f.add(f"EDGE_CURVE('',{_vertex(f, at, a)},{_vertex(f, at, b)},{curve},.T.)")
    return _oriented(f, edge, forward)


def _ring(at: Point, a: float, b: float):
    """A part of a circle as quarters of a rational spline."""
    count = round((b - a) / (pi / 2))
    poles, weights = [], []
    for k in range(2 * count + 1):
        angle = a + k * pi / 4
        far = at[0] if k % 2 == 0 else at[0] * sqrt(2)
        poles.append((far * cos(angle), far * sin(angle), at[1]))
        weights.append(1.0 if k % 2 == 0 else sqrt(0.5))
    return poles, weights, ([3, *[2] * (count - 1), 3], [float(k) for k in range(count + 1)])


def _spline_curve(f: _File, degree: int, poles, weights, knots) -> str:
    often, values = knots
    return f.add(
        f"(BOUNDED_CURVE() B_SPLINE_CURVE({degree},({','.join(poles)}),.UNSPECIFIED.,.F.,.F.) "
        f"B_SPLINE_CURVE_WITH_KNOTS(({','.join(map(str, often))}),({','.join(map(_n, values))}),.UNSPECIFIED.) CURVE() "
        f"GEOMETRIC_REPRESENTATION_ITEM() RATIONAL_B_SPLINE_CURVE(({','.join(map(_n, weights))})) "
        "REPRESENTATION_ITEM(''))"
    )


def _meridian_curve(f: _File, piece, angle: float) -> str:
    """The curve of a piece in the half plane at an angle, walked from its start to its end."""
    if isinstance(piece, Line):
        dr, dz = piece.end[0] - piece.start[0], piece.end[1] - piece.start[1]
        length = hypot(dr, dz)
        way = f.way((dr / length * cos(angle), dr / length * sin(angle), dz / length))
        return f.add(f"LINE('',{f.point(_space(piece.start, angle))},{f.add(f'VECTOR({chr(39) * 2},{way},1.0)')})")
    if isinstance(piece, Arc):
        sign = -1 if piece.counterclockwise else 1
        out = (piece.start[0] - piece.centre[0], piece.start[1] - piece.centre[1])
        x = tuple(c / piece.radius for c in _space(out, angle))
        frame = f.frame(_space(piece.centre, angle), (-sin(angle) * sign, cos(angle) * sign, 0.0), x)
        return f.add(f"CIRCLE('',{frame},{f.length(piece.radius)})")
    poles, weights, degree, knots = _profile(piece)
    return _spline_curve(f, degree, [f.point(_space(p, angle)) for p in poles], weights, knots)


def _meridian(f: _File, piece, angle: float, forward: bool) -> str:
    curve = _meridian_curve(f, piece, angle)
    edge = f.add(f"EDGE_CURVE('',{_vertex(f, piece.start, angle)},{_vertex(f, piece.end, angle)},{curve},.T.)")
    return _oriented(f, edge, forward)


def _profile(piece):
    """Poles, weights, degree and knots of a piece as a spline."""
    if isinstance(piece, Line):
        return [piece.start, piece.end], [1.0, 1.0], 1, ([2, 2], [0.0, 1.0])
    if isinstance(piece, Bezier):
        return [piece.start, piece.one, piece.two, piece.end], [1.0] * 4, 3, ([4, 4], [0.0, 1.0])
    begin, walked = piece.turn
    half = walked / 2
    middle, far = begin + half, piece.radius / cos(half)
    corner = (piece.centre[0] + far * cos(middle), piece.centre[1] + far * sin(middle))
    return [piece.start, corner, piece.end], [1.0, cos(half), 1.0], 2, ([3, 3], [0.0, 1.0])


def _surface(f: _File, piece, a: float, b: float) -> tuple[str, bool]:
    style = f.style.surfaces
    flat = isinstance(piece, Line) and piece.start[1] == piece.end[1]
    if flat and style != "spline":
        return f.add(f"PLANE('',{f.frame((0, 0, piece.start[1]))})"), piece.end[0] < piece.start[0]
    if style == "spline" or (isinstance(piece, Bezier) and style == "analytic"):
        return _spline_surface(f, piece, a, b), True
    if style == "revolved" or isinstance(piece, Bezier):
        axis = f.add(f"AXIS1_PLACEMENT('',{f.point((0, 0, 0))},{f.way((0, 0, 1))})")
        return f.add(f"SURFACE_OF_REVOLUTION('',{_meridian_curve(f, piece, 0.0)},{axis})"), True
    if isinstance(piece, Arc):
        frame, r = f.frame((0, 0, piece.centre[1])), f.length(piece.radius)
        if abs(piece.centre[0]) < 1e-9:
            return f.add(f"SPHERICAL_SURFACE('',{frame},{r})"), piece.counterclockwise
        return f.add(f"TOROIDAL_SURFACE('',{frame},{f.length(piece.centre[0])},{r})"), piece.counterclockwise
    (r0, z0), (r1, z1) = piece.start, piece.end
    if r0 == r1:
        return f.add(f"CYLINDRICAL_SURFACE('',{f.frame((0, 0, 0))},{f.length(r0)})"), z1 > z0
    up = 1.0 if (r1 - r0) * (z1 - z0) > 0 else -1.0
    half = abs((r1 - r0) / (z1 - z0))
    from math import atan

    angle = degrees(atan(half)) if f.style.degree else atan(half)
    frame = f.frame((0, 0, z0), (0, 0, up))
    return f.add(f"CONICAL_SURFACE('',{frame},{f.length(r0)},{_n(angle)})"), z1 > z0


def _spline_surface(f: _File, piece, a: float, b: float) -> str:
    poles, weights, degree, (often, values) = _profile(piece)
    rings = [_ring(pole, a, b) for pole in poles]
    around, knots = rings[0][1], rings[0][2]
    grid = ",".join("(" + ",".join(f.point(ring[0][k]) for ring in rings) + ")" for k in range(len(around)))
    loads = ",".join("(" + ",".join(_n(w * v) for v in weights) + ")" for w in around)
    return f.add(
        f"(BOUNDED_SURFACE() B_SPLINE_SURFACE(2,{degree},({grid}),.UNSPECIFIED.,.F.,.F.,.F.) "
        f"B_SPLINE_SURFACE_WITH_KNOTS(({','.join(map(str, knots[0]))}),({','.join(map(str, often))}),"
        f"({','.join(map(_n, knots[1]))}),({','.join(map(_n, values))}),.UNSPECIFIED.) GEOMETRIC_REPRESENTATION_ITEM() "
        f"RATIONAL_B_SPLINE_SURFACE(({loads})) REPRESENTATION_ITEM('') SURFACE())"
    )
