"""Torque tables made together are those made one by one, to the last bit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from physics_cases import compact_lead, compact_lithium

from bomplan.physics import System
from bomplan.physics.powertrain import (
    TableAsked,
    prepare_tables,
    reference_asked,
    reference_table,
    torque_table,
)
from bomplan.physics.system import TorqueTable


def cars() -> list[System]:
    """Packs of many strengths behind two machines, none of them asked anything yet."""
    found = []
    for number, base in enumerate([compact_lithium(), compact_lead()] * 20):
        pack = replace(
            base.pack,
            resistance_ohm=base.pack.resistance_ohm * (0.5 + 0.1 * number),
            discharge_10s_a=base.pack.discharge_10s_a * (1.2 - 0.02 * number),
        )
        found.append(replace(base, pack=pack, limit_tables={}))
    return found


def asked_of(several: list[System]) -> list[TableAsked]:
    asked = []
    for number, system in enumerate(several):
        asked.append(reference_asked(system, 0.01))
        asked.append(TableAsked(system, 0.5 + 0.01 * number, 0.012, 90.0 * number, 30.0))
        asked.append(TableAsked(system, 0.3, 0.02, 400.0, 1800.0))
    return asked


def same(one: TorqueTable, other: TorqueTable) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name))
        for name in ("speed_rad_s", "torque_nm", "cause")
    )


def test_together_they_are_those_made_one_by_one() -> None:
    many, single = cars(), cars()
    prepare_tables(asked_of(many))
    made = [one.system.limit_tables[one.key] for one in asked_of(many)]
    alone = [torque_table(one.system, *one.key) for one in asked_of(single)]
    assert len(made) == 120
    assert all(same(one, other) for one, other in zip(made, alone, strict=True))
    # They are not all alike: strong and weak packs are held back by different limits.
    assert len({table.torque_nm.tobytes() for table in made}) > 100
    assert {int(cause) for table in made for cause in table.cause} >= {1, 4, 5}


def test_what_is_known_is_not_made_again() -> None:
    system = cars()[0]
    table = reference_table(system, 0.01)
    prepare_tables([reference_asked(system, 0.01)])
    assert system.limit_tables[reference_asked(system, 0.01).key] is table
    assert len(system.limit_tables) == 1
