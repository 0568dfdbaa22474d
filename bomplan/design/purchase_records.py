"""The records of buying: under each line its purchases, and one invoice for each supplier.

Money is in smallest units of the plan's currency unless it says otherwise.
"""

from __future__ import annotations

from bomplan.design.record import Record


class Purchase(Record):
    """So many pieces of a line from one supplier at one price a piece.

    ``unit_price`` is what is shown, rounded down to the smallest unit of the plan's currency,
    and ``price`` that times ``bought``; ``asked`` is the supplier's own price of a piece, in
    smallest units of ``currency``. The invoice counts with the latter.
    """

    supplier: str
    bought: int
    pack_size: int = 1
    unit_price: int
    price: int
    currency: str
    asked: int


class Invoice(Record):
    """What one supplier's order comes to, landed, rounded up once.

    ``goods`` is the sum of its purchases as shown, shipping, duty and tax each rounded down;
    ``rounding`` is what is left of ``total``. ``mass_kg`` is that of everything bought there,
    spares among it; ``lead_days`` 0 where the catalogue does not tell.
    """

    supplier: str
    currency: str
    goods: int
    shipping: int
    duty: int
    tax: int
    rounding: int
    total: int
    mass_kg: float
    lead_days: int


class Spare(Record):
    """Pieces of a line that are bought and not fitted: packs, price steps, or asked for.

    ``price`` is that of the last pieces bought of the line; it is in the line already.
    They weigh nothing in the car.
    """

    family: str
    part: str
    pieces: int
    asked: int
    price: int
    why: str
