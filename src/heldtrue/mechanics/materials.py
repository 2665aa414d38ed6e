"""Elastic, strength, cutting and friction data of parts and jaws; every number carries its own source.

Units: Young's modulus, yield strength and kc11 in MPa, density in kg/mm3, Poisson's ratio, mc and
friction as plain numbers. A source that begins ``from memory`` was not open when the number was written
down, and ``common practice, no source`` is a trade figure; both want a better number from the shop.

Published kc11 values of one and the same steel differ by 20 to 30 % from table to table (42CrMo4: 1773
to 2500), so every kc11 has a low and a high end; `cutting.cutting_force_range` gives the one to prove a plan at.
"""

import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from heldtrue.errors import InputError


def require_finite(**values: float) -> None:
    """Raise `InputError` naming every value that is not a finite number."""
    bad = [f"{name.replace('_', ' ')} is {v}; it must be a finite number" for name, v in values.items()
           if not math.isfinite(v)]  # fmt: skip
    if bad:
        raise InputError(*bad)


def require_positive(**values: float) -> None:
    """Raise `InputError` naming every value that is not finite and above zero."""
    bad = [f"{name.replace('_', ' ')} is {v}; it must be above 0" for name, v in values.items()
           if not (math.isfinite(v) and v > 0.0)]  # fmt: skip
    if bad:
        raise InputError(*bad)


def require_not_negative(**values: float) -> None:
    """Raise `InputError` naming every value that is not finite or is below zero."""
    bad = [f"{name.replace('_', ' ')} is {v}; it must not be below 0" for name, v in values.items()
           if not (math.isfinite(v) and v >= 0.0)]  # fmt: skip
    if bad:
        raise InputError(*bad)


@dataclass(frozen=True, slots=True)
class Datum:
    """One number with where it came from, and the range in which other sources put it."""

    value: float
    source: str
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        require_finite(value=self.value, low=self.least, high=self.most)
        if not self.source.strip():
            raise InputError(f"the value {self.value} has no source")
        if not self.least <= self.value <= self.most:
            raise InputError(f"the value {self.value} lies outside its own range {self.low} to {self.high}")

    @property
    def least(self) -> float:
        """The low end of the range, or the value where no range is known."""
        return self.value if self.low is None else self.low

    @property
    def most(self) -> float:
        """The high end of the range, or the value where no range is known."""
        return self.value if self.high is None else self.high


@dataclass(frozen=True, slots=True)
class WorkMaterial:
    """What a part is made of; `kc11`: specific cutting force of a 1 mm x 1 mm chip, `mc`: its exponent."""

    key: str
    name: str
    group: str
    aliases: tuple[str, ...]
    young: Datum  # MPa
    poisson: Datum
    density: Datum  # kg/mm3
    yield_strength: Datum  # MPa
    kc11: Datum  # MPa
    mc: Datum


@dataclass(frozen=True, slots=True)
class JawMaterial:
    """What a soft top jaw is made of."""

    key: str
    name: str
    aliases: tuple[str, ...]
    young: Datum  # MPa
    poisson: Datum
    density: Datum  # kg/mm3
    yield_strength: Datum  # MPa


_MEM = "from memory"
_APPENDIX_C = "read: Appendix C Material Properties (scribd.com/document/599855366)"
_PHILPOT = "read: Philpot, Mechanics of Materials, 2017, table D.1b"
_TABLE_FIT = ("; within {} of the kc table read in 'Formulae for cutting power' (steel name matched there by "
              "tensile strength, from memory)")  # fmt: skip
_KIENZLE = "from memory: Kienzle and Victor 1957 as reprinted in German table books"
_LOW = "from memory, low confidence: cutting tool guides"

_Elastic = tuple[Datum, Datum, Datum]
_Row = tuple[str, str, str, str, _Elastic, Datum, Datum, Datum]


def _body(young: Datum, poisson: Datum, density: Datum) -> _Elastic:
    return young, poisson, density


def _d(value: float, low: float | None = None, high: float | None = None, source: str = _MEM) -> Datum:
    return Datum(value, source, low, high)


def _kc(value: float, low: float | None = None, high: float | None = None, source: str = _KIENZLE) -> Datum:
    if low is None or high is None:
        source += "; range 0.80 to 1.25 of it assumed, tables scatter by 20 to 30 %"
        low, high = 0.80 * value, 1.25 * value
    return Datum(value, source, low, high)


_STEEL_E = _d(210_000, 200_000, 212_000, "from memory: usual design value; low end " + _APPENDIX_C)
_STEEL_RHO = _d(7.85e-6, source=_APPENDIX_C)
_STEEL_NU = _d(0.30, 0.29, 0.32, "from memory: usual design value; high end " + _APPENDIX_C)
_STEEL = _body(_STEEL_E, _STEEL_NU, _STEEL_RHO)
_AUSTENITE = _body(_d(193_000, 190_000, 200_000, _APPENDIX_C + "; range from memory"),
                   _d(0.27, 0.27, 0.30, _APPENDIX_C + "; high end from memory"),
                   _d(7.93e-6, 7.90e-6, 8.03e-6))  # fmt: skip
_PH_STAINLESS = _body(_d(197_000, 193_000, 200_000), _d(0.27, 0.27, 0.30), _d(7.80e-6, 7.75e-6, 7.82e-6))
_DUPLEX = _body(_d(200_000, 190_000, 206_000), _d(0.30), _d(7.80e-6))
_GJL = _body(_d(110_000, 103_000, 118_000), _d(0.26, 0.22, 0.28), _d(7.19e-6, source=_APPENDIX_C))
_GJS = _body(_d(169_000, 160_000, 176_000, "from memory: EN 1563"), _d(0.275), _d(7.10e-6, 7.05e-6, 7.20e-6))
_CAST_BRONZE = _body(_d(95_000, 90_000, 105_000), _d(0.34), _d(8.70e-6, 8.60e-6, 8.80e-6))
_WROUGHT_BRONZE = _body(_d(112_000, 108_000, 118_000), _d(0.34), _d(8.80e-6))
_AL_BRONZE = _body(_d(120_000, 115_000, 127_000), _d(0.33), _d(7.60e-6, 7.50e-6, 7.65e-6))
_BRASS = _body(_d(97_000, 96_000, 110_000), _d(0.34, 0.33, 0.35), _d(8.47e-6, 8.40e-6, 8.50e-6))
_AL_NU = _d(0.33, 0.33, 0.35, "read: ecoursesbook.com material properties; high end " + _APPENDIX_C)
_AL6061 = _body(_d(68_900, 68_900, 70_000, _APPENDIX_C), _AL_NU, _d(2.71e-6, source=_APPENDIX_C))
_AL7075 = _body(_d(71_700), _d(0.33), _d(2.81e-6))
_AL2024 = _body(_d(73_100), _d(0.33), _d(2.78e-6))
_ALSI = _body(_d(72_000, 70_000, 76_000), _d(0.33), _d(2.68e-6, 2.65e-6, 2.70e-6))
_TI64 = _body(_d(114_000, 110_000, 120_000, _PHILPOT + "; high end " + _APPENDIX_C),
              _d(0.33, 0.31, 0.36, _PHILPOT + "; high end " + _APPENDIX_C),
              _d(4.43e-6, source=_APPENDIX_C))  # fmt: skip
_IN718 = _body(_d(200_000, 199_000, 205_000), _d(0.29), _d(8.19e-6))
_PEEK = _body(_d(3_700, 3_500, 4_200), _d(0.40), _d(1.31e-6))
_POM = _body(_d(2_800, 2_500, 3_100), _d(0.37, 0.35, 0.40), _d(1.41e-6))
_PA6 = _body(_d(1_800, 1_000, 3_200, "from memory: moist to dry"), _d(0.40), _d(1.14e-6))

_EN2 = "from memory: EN 10083-2, normalised"
_EN3 = "from memory: EN 10083-3, quenched and tempered, size 40 to 100 mm; low end soft annealed"
_EN25 = "from memory: EN 10025-2, thickness to 100 mm"
_COPPER = ("from memory, low confidence: tool guides for copper alloys; near 690 MPa flat, read for bronze "
           "and brass in 'Basic Formulas Turning', tool catalogue page R32")  # fmt: skip
_ALU = ("from memory, low confidence: tool guides; 780 (700) for aluminium read in a script after Dietrich, "
        "Praxis der Zerspantechnik")  # fmt: skip
_PLASTIC = "from memory, low confidence: order of size only; measure before relying on it"
_KOENIG = "; low end Koenig and Essel as in Klocke, from memory"
_S235_KC = "read: script after Dietrich/Tschaetsch, Praxis der Zerspantechnik, 11th ed.; quoted as S235JRG2"
_C45_KC = _KIENZLE + _TABLE_FIT.format("1.0 %") + "; 2190, 0.139 read in Dutch university notes" + _KOENIG
_KC295, _KC335, _KC60 = (_KIENZLE + _TABLE_FIT.format(p) for p in ("2.5 %", "2.7 %", "2.5 %"))
_CR_MN = (_KIENZLE + _TABLE_FIT.format("1.8 %") + "; 1800 to 2100 quoted from Vargas et al., Procedia CIRP "
          "82, 2019; 2140 from Stanojkovic et al. for 20MnCrS5" + _KOENIG)  # fmt: skip
_CR_MO25 = _KIENZLE + _TABLE_FIT.format("2.6 %") + _KOENIG
_CR_MO34 = _KIENZLE + _TABLE_FIT.format("1.9 %")
_GREY = _KIENZLE + _TABLE_FIT.format("5.1 %") + _KOENIG + " (GG30)"
_ALSI_KC = _LOW + "; low end quoted for AlSi12 from Horvath and Lukacs, J. Mech. Eng. 63(9), 2017"

# fmt: off
_ROWS: tuple[_Row, ...] = (
    # key, name, group, further names, elastic, yield strength, kc11, mc
    ("S235", "S235 structural steel", "steel", "s235jr s235jrg2 1.0038 1.0037 st37 a36 st37-2 q235", _STEEL,
     _d(235, 195, 300, _EN25), _kc(1780, source=_S235_KC), _d(0.17, source=_S235_KC)),
    ("S355", "S355 structural steel", "steel", "s355jr s355j0 s355j2 s355j2g3 1.0045 1.0570 1.0577 st52 st52-3 q355",
     _STEEL, _d(335, 295, 450, _EN25), _kc(1900, 1500, 2400, _LOW), _d(0.20, 0.17, 0.26, _LOW)),
    ("E295", "E295 engineering steel", "steel", "1.0050 st50", _STEEL,
     _d(295, 255, 340, _EN25), _kc(1990, source=_KC295), _d(0.26, source=_KC295)),
    ("E335", "E335 engineering steel", "steel", "1.0060 st60", _STEEL,
     _d(335, 295, 380, _EN25), _kc(2110, source=_KC335), _d(0.17, source=_KC335)),
    ("C15", "C15 mild steel", "steel", "1.0401 ck15 1.1141 1018 1015 softsteel mildsteel g10180", _STEEL,
     _d(300, 215, 370, "from memory: hot rolled to cold drawn"), _kc(1820), _d(0.22, source=_KIENZLE)),
    ("11SMn30", "11SMn30 free-cutting steel", "steel", "1.0715 9smn28 12l14 1215 11smnpb30 1.0718", _STEEL,
     _d(375, 245, 440, "from memory: EN 10277"), _kc(1400, 1200, 1800, _LOW), _d(0.20, source=_LOW)),
    ("C45", "C45 steel, normalised", "steel", "1.0503 1.1191 ck45 c45e 1045 s45c g10450 c45r", _STEEL,
     _d(340, 275, 430, _EN2),
     _kc(2220, 1659, 2665, _C45_KC + "; high end 1.2 of it assumed"), _d(0.14, 0.136, 0.21, _C45_KC)),
    ("C60", "C60 steel, normalised", "steel", "1.0601 1.1221 ck60 c60e 1060", _STEEL,
     _d(380, 310, 520, _EN2), _kc(2130, source=_KC60), _d(0.18, source=_KC60)),
    ("16MnCr5", "16MnCr5 case-hardening steel", "steel", "1.7131 1.7139 16mncrs5 5115 g51150", _STEEL,
     _d(380, 295, 635, "from memory: soft annealed to blank hardened"),
     _kc(2100, 1411, 2140, _CR_MN), _d(0.26, source=_CR_MN)),
    ("8620", "8620 case-hardening steel", "steel", "21nicrmo2 1.6523 20nicrmo2-2 sncm220 g86200", _STEEL,
     _d(385, 295, 635, "from memory: annealed to normalised; high end blank hardened, as 16MnCr5"),
     _kc(2100, 1400, 2500, _LOW), _d(0.25, 0.20, 0.28, _LOW)),
    ("34CrMo4", "34CrMo4 quenched and tempered", "steel", "1.7220 1.7226 34crmos4 4135 scm435", _STEEL,
     _d(550, 380, 800, _EN3), _kc(2240, source=_CR_MO34), _d(0.21, source=_CR_MO34)),
    ("42CrMo4", "42CrMo4 quenched and tempered", "steel",
     "1.7225 1.7227 42crmos4 4140 4142 42crmo scm440 g41400 708m40 709m40 en19", _STEEL,
     _d(650, 420, 900, _EN3),
     _kc(2500, 1773, 2850, _CR_MO25 + "; high end 1.14 of it assumed"), _d(0.26, source=_CR_MO25)),
    ("100Cr6", "100Cr6 bearing steel, soft annealed", "steel", "1.3505 52100 suj2 gcr15 g52986", _STEEL,
     _d(400, 350, 500), _kc(2000, 1400, 2500, _LOW), _d(0.25, source=_LOW)),
    ("304", "X5CrNi18-10 austenitic stainless", "stainless",
     "1.4301 x5crni18-10 304l aisi304 1.4307 sus304 s30400 s30403 v2a",
     _AUSTENITE, _d(210, 175, 310, "from memory: EN 10088-3"), _kc(2350, source=_LOW), _d(0.21, source=_LOW)),
    ("316", "X5CrNiMo17-12-2 austenitic stainless", "stainless",
     "1.4401 1.4404 x5crnimo17-12-2 316l aisi316 sus316 s31600 s31603 v4a",
     _AUSTENITE, _d(205, 170, 310, "from memory: EN 10088-3"), _kc(2350, source=_LOW), _d(0.21, source=_LOW)),
    ("17-4PH", "X5CrNiCuNb16-4 precipitation hardened", "stainless", "1.4542 x5crnicunb16-4 630 s17400",
     _PH_STAINLESS, _d(1000, 725, 1170, "from memory: ASTM A564, H1150 to H900"),
     _kc(2400, 1950, 2850, _LOW), _d(0.22, source=_LOW)),
    ("2205", "X2CrNiMoN22-5-3 duplex stainless", "stainless", "1.4462 duplex2205 s32205 s31803 x2crnimon2253",
     _DUPLEX, _d(450, 450, 600, "from memory: EN 10088-3"),
     _kc(2400, 2000, 2900, _LOW), _d(0.21, source=_LOW)),
    ("GJL-250", "EN-GJL-250 grey cast iron", "iron", "en-gjl-250 gg25 0.6025 5.1301 fc250",
     _GJL, _d(165, 165, 228, "from memory: EN 1561, 0.1 % limit"),
     _kc(1160, 899, 1400, _GREY + "; high end 1.2 of it assumed"),
     _d(0.26, source=_GREY)),
    ("GJS-400", "EN-GJS-400-15 ductile cast iron", "iron", "en-gjs-400-15 ggg40 ggg-40 0.7040 60-40-18 fcd400", _GJS,
     _d(250, 240, 280, "from memory: EN 1563"), _kc(1005, 900, 1500, _KIENZLE), _d(0.25, source=_KIENZLE)),
    ("GJS-500", "EN-GJS-500-7 ductile cast iron", "iron", "en-gjs-500-7 ggg50 ggg-50 0.7050 65-45-12 fcd500", _GJS,
     _d(320, 290, 350, "from memory: EN 1563"), _kc(1200, 1000, 1500, _LOW), _d(0.22, source=_LOW)),
    ("CuSn12", "CuSn12-C cast tin bronze", "bronze", "cusn12-c 2.1052 cc483k g-cusn12 c90800", _CAST_BRONZE,
     _d(140, 130, 170, "from memory: EN 1982"), _kc(780, 550, 1100, _COPPER), _d(0.23, source=_COPPER)),
    ("CuSn8", "CuSn8 wrought tin bronze", "bronze", "2.1030 cw453k c52100", _WROUGHT_BRONZE,
     _d(280, 170, 500, "from memory: EN 12163"), _kc(780, 550, 1100, _COPPER), _d(0.23, source=_COPPER)),
    ("CuAl10Ni", "CuAl10Ni5Fe4 aluminium bronze", "bronze", "cual10ni5fe4 2.0966 cw307g cc333g c63000 c95500",
     _AL_BRONZE, _d(280, 250, 400, "from memory: EN 1982 and EN 12163"), _kc(1000, 700, 1300, _COPPER),
     _d(0.23, source=_COPPER)),
    ("CuZn39Pb3", "CuZn39Pb3 free-cutting brass", "brass", "2.0401 cw614n ms58 c38500", _BRASS,
     _d(250, 150, 400, "from memory: EN 12164"), _kc(650, 550, 780, _COPPER), _d(0.20, 0.18, 0.25, _COPPER)),
    ("C36000", "C36000 free-cutting brass", "brass", "360 brass360 cuzn36pb3 cw603n", _BRASS,
     _d(200, 124, 360, "from memory: ASTM B16"), _kc(650, 550, 780, _COPPER), _d(0.20, 0.18, 0.25, _COPPER)),
    ("6061-T6", "6061-T6 aluminium", "aluminium", "6061 almg1sicu 3.3211 a96061 "
     "aluminium6061-t6 aluminum6061-t6 aluminium6061",
     _AL6061, _d(276, 240, 290), _kc(700, 600, 780, _ALU), _d(0.25, 0.18, 0.25, _ALU)),
    ("6082-T6", "6082-T6 aluminium", "aluminium", "6082 almgsi1 3.2315 a96082", _AL6061,
     _d(250, 240, 290, "from memory: EN 755-2"), _kc(700, 600, 780, _ALU), _d(0.25, 0.18, 0.25, _ALU)),
    ("7075-T6", "7075-T6 aluminium", "aluminium", "7075 7075-t651 alzn5.5mgcu 3.4365 aluminium7075-t6 a97075",
     _AL7075, _d(503, 430, 540), _kc(750, 600, 900, _ALU), _d(0.25, 0.18, 0.25, _ALU)),
    ("2024-T3", "2024-T3 aluminium", "aluminium", "2024 2024-t351 alcu4mg1 3.1355 a92024", _AL2024,
     _d(324, 290, 345), _kc(720, 600, 900, _ALU), _d(0.25, 0.18, 0.25, _ALU)),
    ("AlSi7Mg", "cast aluminium-silicon under 13 % Si", "aluminium", "alsi alsi12 alsi10mg castalsi a356",
     _ALSI, _d(150, 80, 210, "from memory: EN 1706, as cast to T6"),
     _kc(700, 358, 830, _ALSI_KC),
     _d(0.25, 0.23, 0.26, _LOW)),
    ("Ti6Al4V", "Ti-6Al-4V titanium", "titanium", "ti-6al-4v 3.7165 3.7164 grade5 tial6v4 r56400", _TI64,
     _d(828, 828, 1000, "from memory: ASTM B348"), _kc(1400, 1300, 1750, _LOW), _d(0.22, 0.21, 0.23, _LOW)),
    ("Inconel718", "Inconel 718, aged", "nickel", "2.4668 718 alloy718 in718 nicr19nbmo n07718", _IN718,
     _d(1034, 550, 1200, "from memory: AMS 5663; low end solution annealed"), _kc(2650, 2088, 2900, _LOW),
     _d(0.25, 0.25, 0.29, _LOW)),
    ("PEEK", "PEEK, unfilled", "plastic", "polyetheretherketone", _PEEK, _d(100, 90, 115),
     _kc(160, 80, 400, _PLASTIC), _d(0.20, source=_PLASTIC)),
    ("POM", "POM acetal", "plastic", "acetal pom-c pom-h polyacetal", _POM, _d(62, 55, 70),
     _kc(110, 60, 300, _PLASTIC), _d(0.20, source=_PLASTIC)),
    ("PA6", "PA6 nylon", "plastic", "nylon pa polyamide pa66", _PA6,
     _d(50, 40, 80, "from memory: moist to dry"), _kc(90, 50, 300, _PLASTIC), _d(0.20, source=_PLASTIC)),
)
# fmt: on

WORK_MATERIALS: tuple[WorkMaterial, ...] = tuple(
    WorkMaterial(key, name, group, tuple(further.split()), *elastic, strength, kc11, mc)
    for key, name, group, further, elastic, strength, kc11, mc in _ROWS
)

_JAW_KEYS = ("C15", "16MnCr5", "C45", "6061-T6", "7075-T6", "GJL-250", "CuZn39Pb3", "POM", "PA6")

JAW_MATERIALS: tuple[JawMaterial, ...] = tuple(
    JawMaterial(m.key, m.name, m.aliases, m.young, m.poisson, m.density, m.yield_strength)
    for m in WORK_MATERIALS
    if m.key in _JAW_KEYS
)


def _plain(name: str) -> str:
    return "".join(c for c in name.casefold() if c.isalnum())


def _index(materials: Iterable[WorkMaterial | JawMaterial]) -> Mapping[str, int]:
    found: dict[str, int] = {}
    for position, material in enumerate(materials):
        for name in (material.key, material.name, *material.aliases):
            if found.setdefault(_plain(name), position) != position:
                raise AssertionError(f"{name} names two materials")
    return MappingProxyType(found)


_WORK_INDEX = _index(WORK_MATERIALS)
_JAW_INDEX = _index(JAW_MATERIALS)


_FAMILIES: Mapping[str, tuple[str, str]] = MappingProxyType({
    # As it is typed, plain: (group, start of the keys), of both what is not empty counts.
    "steel": ("steel", ""), "carbonsteel": ("steel", ""), "alloysteel": ("steel", ""),
    "stainless": ("stainless", ""), "stainlesssteel": ("stainless", ""), "inox": ("stainless", ""),
    "duplex": ("stainless", "2205"), "duplexsteel": ("stainless", "2205"),
    "castiron": ("iron", ""), "iron": ("iron", ""), "ductile": ("iron", "GJS"), "ductileiron": ("iron", "GJS"),
    "ductilecastiron": ("iron", "GJS"), "nodulariron": ("iron", "GJS"), "sgiron": ("iron", "GJS"),
    "greyiron": ("iron", "GJL"), "grayiron": ("iron", "GJL"), "greycastiron": ("iron", "GJL"),
    "graycastiron": ("iron", "GJL"), "bronze": ("bronze", ""), "brass": ("brass", ""),
    "aluminium": ("aluminium", ""), "aluminum": ("aluminium", ""), "alu": ("aluminium", ""),
    "titanium": ("titanium", ""), "plastic": ("plastic", ""),
})  # fmt: skip
"""Names of many materials: their data differ too much to choose one, so whoever types one is asked which."""
_SYSTEM = re.compile(
    r"^(?:aisi|sae|astm|uns|din|en|iso|jis|gb|bs|aa|aw|alloy|w\.?\s?-?nr\.?|wnr\.?)(?:[\s./-]+|(?=\d))", re.I
)
"""The norm system in front of a name."""


def _position(name: str, index: Mapping[str, int]) -> int | None:
    """Where a material stands, by its name with or without the norm system in front of it."""
    rest = name.strip()
    for _ in range(4):
        found = index.get(_plain(rest))
        if found is not None or not (start := _SYSTEM.match(rest)):
            return found
        rest = rest[start.end() :]
    return None


def _unknown(kind: str, name: str, index: Mapping[str, int], known: Sequence[WorkMaterial | JawMaterial]) -> InputError:
    keys = [one.key for one in known]
    family = _FAMILIES.get(_plain(name))
    if family is not None:
        groups = {one.key: one.group for one in WORK_MATERIALS}
        members = [key for key in keys if groups[key] == family[0] and key.startswith(family[1])]
        which = f"say which: {', '.join(members)}" if members else "none of it is known here"
        return InputError(f"{kind} material {name!r} is a family of materials; {which}")
    close = difflib.get_close_matches(_plain(name), index, n=8, cutoff=0.5)
    nearest = list(dict.fromkeys(keys[index[c]] for c in close))[:4]
    hint = f"closest names: {', '.join(nearest)}" if nearest else f"known names: {', '.join(keys)}"
    return InputError(f"{kind} material {name!r} is not known; {hint}")


def work_material(name: str) -> WorkMaterial:
    """The part material of that key, name or alias; case, spaces, punctuation and the norm system do not count.

    Names of other norm systems stand for the nearest grade (from memory). Raises `InputError` that lists the closest
    names when there is none, and the members of a family such as "steel", which is never chosen from.

    >>> work_material(" 1.7225 ").key, work_material("AISI 4140").key, work_material("42crmo4").key
    ('42CrMo4', '42CrMo4', '42CrMo4')
    """
    position = _position(name, _WORK_INDEX)
    if position is None:
        raise _unknown("work", name, _WORK_INDEX, WORK_MATERIALS)
    return WORK_MATERIALS[position]


def jaw_material(name: str) -> JawMaterial:
    """The jaw material of that key, name or alias; case, spaces and punctuation do not count.

    Raises `InputError` that lists the closest names when there is none.

    >>> jaw_material("1018").key
    'C15'
    """
    position = _position(name, _JAW_INDEX)
    if position is None:
        raise _unknown("jaw", name, _JAW_INDEX, JAW_MATERIALS)
    return JAW_MATERIALS[position]


def jaw_material_name(name: str) -> str:
    """How a jaw material is called here, whatever it was typed as; a name that is not known as it was typed.

    >>> jaw_material_name("aluminium 6061-T6"), jaw_material_name("1045"), jaw_material_name("jaw bronze")
    ('6061-T6 aluminium', 'C45 steel, normalised', 'jaw bronze')
    """
    position = _position(name, _JAW_INDEX)
    return name if position is None else JAW_MATERIALS[position].name


_CP = "common practice, no source"
_MANUAL = "manual of a chuck maker, read, p. 45"
_SECOND_MANUAL = "manual of a second chuck maker, read"
_SURFACES = ("ground", "turned", "raw")  # smooth to rough; the manuals say ground, medium, unmachined
_FRICTION: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {"smooth": (0.07, 0.10, 0.15), "diamond": (0.12, 0.20, 0.30), "serrated": (0.20, 0.35, 0.45)}
)
# Round the part and along it. The manual gives serrated jaws one figure, "up to": it is taken for the roughest part.
_SECOND_FRICTION: Mapping[tuple[str, str], tuple[float, float]] = MappingProxyType(
    {
        ("smooth", "ground"): (0.06, 0.08),
        ("smooth", "turned"): (0.10, 0.13),
        ("smooth", "raw"): (0.14, 0.16),
        ("serrated", "raw"): (0.25, 0.30),
    }
)
# No surface is smoother than ground. Ground against turned is 0.7 (smooth), 0.6 (diamond), 0.57 (serrated) of
# the table's value, and the same step once more gives the oily ground part.
_OILY_GROUND: Mapping[str, float] = MappingProxyType({"smooth": 0.05, "diamond": 0.07, "serrated": 0.11})
_NOT_IN_TABLE = _CP + ": no row for this material, the lowest factor of the table is taken"
WORK_FRICTION_FACTOR: Mapping[str, Datum] = MappingProxyType(
    {
        "steel": Datum(1.0, _MANUAL + ": the table is for steel parts"),
        "stainless": Datum(1.0, _CP + ": taken as steel"),
        "aluminium": Datum(0.95, f"{_MANUAL}; high end {_SECOND_MANUAL}", high=0.97),
        "brass": Datum(0.90, f"{_MANUAL}; high end {_SECOND_MANUAL}", high=0.92),
        "iron": Datum(0.80, _MANUAL + ": grey iron, the second maker's manual the same; ductile iron taken as grey"),
        "bronze": Datum(0.80, _NOT_IN_TABLE),
        "titanium": Datum(0.80, _NOT_IN_TABLE),
        "nickel": Datum(0.80, _NOT_IN_TABLE),
        "plastic": Datum(0.80, _NOT_IN_TABLE),
    }
)


def _choice(what: str, given: str, allowed: Iterable[str]) -> str:
    names = tuple(allowed)
    if given not in names:
        raise InputError(f"{what} {given!r} is not known; it must be one of {', '.join(names)}")
    return given


def _column(jaw_face: str, surface: str) -> tuple[float, float, float, str]:
    """Least, table and greatest friction of a steel part on a jaw face of the table, and where the ends come from."""
    row = _SURFACES.index(surface)
    value = _FRICTION[jaw_face][row]
    if row:
        low, note = _FRICTION[jaw_face][row - 1], f"low end oily, as a dry {_SURFACES[row - 1]} part ({_CP})"
    else:
        low, note = _OILY_GROUND[jaw_face], f"low end oily, the step from turned to ground taken once more ({_CP})"
    round_, along = _SECOND_FRICTION.get((jaw_face, surface), (value, value))
    if round_ < low:
        low, note = round_, f"low end {_SECOND_MANUAL}, round the part"
    if along > value:
        note += f"; high end {_SECOND_MANUAL}, along the axis"
    return low, value, max(value, along), note


def friction_range(work_group: str, jaw_face: str, surface: str) -> Datum:
    """Friction of a part against the jaws for planning; take the low end unless the grip is proved dry.

    Parameters: ``work_group`` as in `WorkMaterial.group`; ``jaw_face`` smooth, grooved, diamond or serrated;
        ``surface`` of the part at the grip: ground, turned or raw.
    Returns: a `Datum`; ``value`` is the published table's, for a dry and clean part and for rules that are written
        for it; ``low`` the least of the oily part and of a second table round the part; ``high`` the greatest of
        both tables, which for smooth jaws is friction along the axis.
    Raises: `InputError` for a word that is not in the table.
    Notes: tables of two chuck makers' manuals (read) for steel parts, times a factor for the part's material; an
        oily part counts as the next smoother surface (common practice, no source). A grooved jaw is in neither: its
        low end and value are a smooth jaw's (rings in the bore bite along the axis, not round it), its high end is
        half way from smooth to diamond (common practice, no source). Clean laboratory friction (steel on steel 0.7)
        has no place here.

    >>> f = friction_range("steel", "smooth", "turned")
    >>> f.low, f.value, f.high
    (0.07, 0.1, 0.13)
    """
    factor = WORK_FRICTION_FACTOR[_choice("material group", work_group, WORK_FRICTION_FACTOR)]
    _choice("jaw face", jaw_face, (*_FRICTION, "grooved"))
    _choice("part surface", surface, _SURFACES)
    low, value, high, note = _column("smooth" if jaw_face == "grooved" else jaw_face, surface)
    if jaw_face == "grooved":
        high = 0.5 * (high + _column("diamond", surface)[2])
        note += f"; grooved jaw as smooth, high end half way to diamond ({_CP})"
    source = f"{_MANUAL}: {jaw_face} jaw, {surface} steel part; {note}"
    if work_group != "steel":
        source += f"; times {factor.value:g} for {work_group} ({factor.source})"
    return Datum(value * factor.value, source, low * factor.least, high * factor.most)
