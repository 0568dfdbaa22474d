"""What can be bought: loading, checking and explaining catalogues."""

from bomplan.catalog.load import load_catalog
from bomplan.catalog.records import (
    Catalog,
    CurvePoint,
    Offer,
    Pair,
    Part,
    Supplier,
    TemperaturePoint,
)

__all__ = [
    "Catalog",
    "CurvePoint",
    "Offer",
    "Pair",
    "Part",
    "Supplier",
    "TemperaturePoint",
    "load_catalog",
]
