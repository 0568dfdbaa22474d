"""What the writing on a tyre's side says: size, load it carries, radius it rolls on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi

_FIRST_INDEX = 30
_LOAD_TABLE_KG = """
    106 109 112 115 118 121 125 128 132 136
    140 145 150 155 160 165 170 175 180 185
    190 195 200 206 212 218 224 230 236 243
    250 257 265 272 280 290 300 307 315 325
    335 345 355 365 375 387 400 412 425 437
    450 462 475 487 500 515 530 545 560 580
    600 615 630 650 670 690 710 730 750 775
    800 825 850 875 900 925 950 975 1000 1030
    1060 1090 1120 1150 1180 1215 1250 1285 1320 1360
    1400 1450 1500 1550 1600 1650 1700 1750 1800 1850
    1900
"""
_LOADS_KG = tuple(int(load) for load in _LOAD_TABLE_KG.split())
_SPEEDS_KMH = {
    "J": 100, "K": 110, "L": 120, "M": 130, "N": 140, "P": 150, "Q": 160, "R": 170, "S": 180,
    "T": 190, "U": 200, "H": 210, "V": 240, "W": 270, "Y": 300,
}  # fmt: skip

_DESIGNATION = re.compile(
    r"""^\s*(?:P|LT|C)?\s*
    (?P<width>\d{2,3})\s*/\s*(?P<aspect>\d{2,3})\s*
    (?P<build>ZR|R|B|D|-)?\s*(?P<rim>\d{2}(?:[.,]5)?)\s*(?P<van>C)?\s*(?:M/C)?\s*
    \(?(?P<load>\d{2,3})\s*(?:/\s*(?P<twin>\d{2,3}))?\s*(?P<speed>[JKLMNPQRSTUHVWY])\)?
    (?:\s*(?:M/C|XL|RF|REINF(?:ORCED)?|EXTRA\s*LOAD|M\+S|TL|TT))*\s*$""",
    re.VERBOSE | re.IGNORECASE,
)


@dataclass(frozen=True)
class Tyre:
    """A tyre by its designation.

    ``load_kg`` is what one tyre carries as a single, ``twin_load_kg`` in a twin fitment where
    the designation gives it; ``speed_kmh`` the greatest speed of its symbol.
    """

    width_mm: int
    aspect_percent: int
    radial: bool
    rim_in: float
    load_index: int
    load_kg: int
    twin_load_kg: int | None
    speed_symbol: str
    speed_kmh: int

    @property
    def free_diameter_mm(self) -> float:
        """Overall diameter without load: rim plus two side walls."""
        return self.rim_in * 25.4 + 2.0 * self.width_mm * self.aspect_percent / 100.0

    @property
    def rolling_radius_mm(self) -> float:
        """Distance rolled per turn over 2 pi.

        A radial tyre rolls about 3.05 times its overall diameter per turn, a bias-ply tyre
        about 3.07 times (ETRTO practice, from memory); a measured radius is better.
        """
        return self.free_diameter_mm * (3.05 if self.radial else 3.07) / (2.0 * pi)


def load_of_index_kg(load_index: int) -> int:
    """The load of a load index from 30 to 130, in kg per tyre.

    Table of ISO 4000-1 and the ETRTO standards manual (from memory). ValueError outside.
    """
    if 0 <= load_index - _FIRST_INDEX < len(_LOADS_KG):
        return _LOADS_KG[load_index - _FIRST_INDEX]
    raise ValueError(f"load index {load_index} is outside the table, which goes from 30 to 130")


def parse_tyre(designation: str) -> Tyre:
    """Read a designation such as ``185/65 R15 88H`` or ``195/70 R15C 104/102R``.

    Form of ISO 4000-1 (passenger car) and ISO 5751 (motorcycle) designations (from memory).
    ValueError, with what was expected, for anything else, inch sizes included.
    """
    match = _DESIGNATION.match(designation)
    if match is None:
        raise ValueError(
            f"{designation!r} is no tyre designation like '185/65 R15 88H': "
            "width/aspect, build and rim, load index and speed symbol"
        )
    symbol = match["speed"].upper()
    load_index = int(match["load"])
    twin = match["twin"]
    return Tyre(
        width_mm=int(match["width"]),
        aspect_percent=int(match["aspect"]),
        radial=(match["build"] or "-").upper() in ("R", "ZR"),
        rim_in=float(match["rim"].replace(",", ".")),
        load_index=load_index,
        load_kg=load_of_index_kg(load_index),
        twin_load_kg=load_of_index_kg(int(twin)) if twin else None,
        speed_symbol=symbol,
        speed_kmh=_SPEEDS_KMH[symbol],
    )


def axle_tyre_load_g(tyre: Tyre, tyres_on_axle: int = 2) -> int:
    """What the tyres of one axle carry together, in g.

    One tyre for a motorcycle, two for a car, four for a twin rear axle. Twins carry by their
    twin index; without one each must carry 0.27 of the axle instead of a quarter of it, since
    two tyres side by side never share evenly: Regulation (EU) 458/2011, annex II, class C1 in
    twin formation (from memory). Rounded down to the gram.

    ValueError for an axle without a tyre.
    """
    if tyres_on_axle < 1:
        raise ValueError("an axle has at least one tyre")
    if tyres_on_axle <= 2:
        return tyre.load_kg * tyres_on_axle * 1000
    if tyre.twin_load_kg is not None:
        return tyre.twin_load_kg * tyres_on_axle * 1000
    return tyre.load_kg * 1000 * tyres_on_axle * 25 // 27
