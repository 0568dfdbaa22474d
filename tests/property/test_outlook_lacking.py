"""Catalogues with one family spoilt: it is named, and the figures that are told suffice."""

from __future__ import annotations

import pytest
from shipped_examples import generic, with_core

from bomplan.catalog.records import Catalog
from bomplan.outlook import Solver
from bomplan.outlook.mending import with_figure
from bomplan.outlook.needed import parts_needed, with_parts
from bomplan.outlook.solving import any_plan

pytestmark = pytest.mark.slow
PROJECT = with_core("courier-motorcycle")
# Family, column, what every row of it is cut down to.
SPOILT = [
    ("charger", "v_out_max", 62.0),
    ("contactor", "v_max", 30.0),
    ("dcdc", "v_in_max", 60.0),
    ("fuse", "v_dc", 40.0),
    ("cable", "v_rating", 40.0),
    ("branch_fuse", "v_dc", 40.0),
]


def cut(family: str, column: str, most: float) -> Catalog:
    rows = generic().family(family).values()
    return with_parts(
        generic(),
        [with_figure(row, column, most) for row in rows if row.number(column) > most],
    )


@pytest.mark.parametrize(("family", "column", "most"), SPOILT)
def test_the_spoilt_family_is_named_and_its_figure_brings_the_plan(
    family: str, column: str, most: float
) -> None:
    catalog = cut(family, column, most)
    assert any_plan(PROJECT, catalog).status == "none"
    found = parts_needed(PROJECT, PROJECT, Solver(catalog))
    assert [one.family for one in found] == [family]
    assert found[0].sufficient
    assert found[0].as_asked
    assert column in {one.column for one in found[0].figures}
    own = catalog.family(family)[found[0].like]
    new = own.model_copy(update={"id": "new"})
    for one in found[0].figures:
        new = with_figure(new, one.column, one.needed if one.needed not in ("yes", "no") else
                          one.needed == "yes")  # fmt: skip
    # The figures that are told, written down by hand, are enough.
    assert any_plan(PROJECT, with_parts(catalog, [new])).core is not None
