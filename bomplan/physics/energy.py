"""Energy per distance in the forms people quote, and from battery to wall."""

from __future__ import annotations

GALLON_WH = 33_705.0  # of petrol, 40 CFR Part 600: one US gallon equivalent
MILE_KM = 1.609344
LABEL_FACTOR = 0.7  # dynamometer to label, 40 CFR 600.210-12 (the one-size adjustment)


def mpge(wall_wh_per_km: float) -> float:
    """Miles per US gallon equivalent, from energy at the wall."""
    return GALLON_WH / (wall_wh_per_km * MILE_KM)


def combined_mpge(city: float, highway: float) -> float:
    """55 % city and 45 % highway by distance: 1/(0.55/c + 0.45/h) (40 CFR Part 600)."""
    return 1.0 / (0.55 / city + 0.45 / highway)


def wall_wh_per_km(
    battery_wh_per_km: float, charger_efficiency: float, charge_efficiency: float
) -> float:
    """Energy bought per distance: battery out over charger times what charging returns.

    ``charge_efficiency`` is energy out over energy in of the battery itself: flooded lead
    about 0.70, iron phosphate about 0.92 (published round figures).

    Nothing where the way gives back more than it takes: the meter does not run backwards.

    In Wh/km; efficiencies are shares. ValueError where one lies outside (0, 1].
    """
    if not (0 < charger_efficiency <= 1 and 0 < charge_efficiency <= 1):
        raise ValueError("efficiencies must lie in (0, 1]")
    return max(0.0, battery_wh_per_km) / (charger_efficiency * charge_efficiency)
