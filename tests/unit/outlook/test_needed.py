"""Which figures a part would need is said of a catalogue that lacks it, and tried by planning."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from shipped_examples import drive_of, generic, with_core

from bomplan.catalog.records import Catalog, Part
from bomplan.design.studies import Clash, Member, PartNeeded
from bomplan.outlook import Solver
from bomplan.outlook.needed import (
    NEAR,
    STRETCHES,
    _stretched,
    by_kilogram,
    by_litre,
    module_wh,
    parts_needed,
    with_parts,
)
from bomplan.outlook.solving import any_plan
from bomplan.project.records import Project
from bomplan.report.studies import clash_lines
from bomplan.report.units import Show

# The example with its core given, so that a search takes a second.
MEMBER = Member(lever="range", words="range, home and back", amount=90.0, unit="km")
PROJECT = with_core("courier-motorcycle")


def told(*parts: PartNeeded) -> str:
    clash = Clash(currency="EUR", possible=False, parts=parts, parts_looked_for=True)
    return " ".join(row.text.strip() for row in clash_lines(clash, Show("metric")))


def test_a_clash_is_true_as_printed() -> None:
    """One member given up does not do: all that is not in the clash goes, too."""
    clash = Clash(currency="EUR", possible=False, proven=True, members=(MEMBER,))
    said = " ".join(row.text.strip() for row in clash_lines(clash, Show("metric")))
    assert "without any one of them, and without all that is not named here, they could" in said
    assert MEMBER.words in said


def spoilt(family: str, change: Callable[[Part], Part]) -> Catalog:
    return with_parts(generic(), [change(part) for part in generic().family(family).values()])


def figures(**changed: float) -> Callable[[Part], Part]:
    def change(part: Part) -> Part:
        low = {name: min(part.number(name), value) for name, value in changed.items()}
        return part.model_copy(update={"figures": {**part.figures, **low}})

    return change


def test_a_charger_that_reaches_is_named_with_its_volts_and_tried() -> None:
    catalog = spoilt("charger", figures(v_out_max=70.0, v_out_min=30.0))
    assert any_plan(PROJECT, catalog).status == "none"
    (found,) = parts_needed(PROJECT, PROJECT, Solver(catalog))
    assert found.family == "charger"
    assert found.sufficient
    assert found.as_asked
    one = next(one for one in found.figures if one.column == "v_out_max")
    _, drive, _ = drive_of("courier-motorcycle")
    assert float(one.needed) == pytest.approx(drive.figures.charge_v, rel=0.01)
    assert float(one.needed) >= drive.figures.charge_v
    assert one.has == 70.0
    assert one.sense == "at least"
    # With such a row there is a plan, without the last volt none.
    own = catalog.family("charger")[found.like]

    def planned(volts: float) -> str:
        figured = {**own.figures, **{o.column: o.needed for o in found.figures}, "v_out_max": volts}
        new = own.model_copy(update={"id": "new-charger", "figures": figured})
        return any_plan(PROJECT, with_parts(catalog, [new])).status

    assert planned(float(one.needed)) != "none"
    assert planned(drive.figures.charge_v * 0.99) == "none"
    words = told(found)
    assert "What the catalogue lacks" in words
    assert f"at least {one.needed:g}" in words.replace("\N{NO-BREAK SPACE}", " ")
    assert "planned and proven" in words


def test_figures_that_were_not_enough_are_told_as_needed_only() -> None:
    part = PartNeeded(
        family="charger", title="charger", like="x", figures=(), sufficient=False, together=True
    )
    assert "would be needed at least; whether no more is, was not shown" in told(part)
    assert "No better module, drive or controller was found" in told()


def farther(project: Project, share: float) -> Project:
    targets = project.targets
    ranges = tuple(
        one.model_copy(update={"distance_m": round(one.distance_m * share)})
        for one in targets.range
    )
    return project.model_copy(update={"targets": targets.model_copy(update={"range": ranges})})


@pytest.mark.slow
def test_a_denser_module_is_named_by_litre_and_kilogram_and_a_little_less_fails() -> None:
    project, catalog = farther(PROJECT, 1.3), generic()
    assert any_plan(project, catalog).status == "none"
    found = _stretched(STRETCHES[0], project, Solver(catalog), as_asked=True)
    assert found is not None
    assert found.family == "module"
    own = catalog.family("module")[found.like]
    litre, kilogram = found.figures
    assert (litre.unit, kilogram.unit) == ("Wh/l", "Wh/kg")
    factor = float(litre.needed) / by_litre(own)
    assert factor == pytest.approx(float(kilogram.needed) / by_kilogram(own), rel=0.02)
    assert factor > 1.05
    apply = STRETCHES[0].apply
    assert any_plan(project, apply(catalog, factor * 1.01)).core is not None
    assert any_plan(project, apply(catalog, factor / NEAR**2)).status == "none"
    assert "by itself" in told(found)


def test_energy_by_volume_and_mass() -> None:
    part = next(iter(generic().family("module").values()))
    litres = (part.length_mm or 0) * (part.width_mm or 0) * (part.height_mm or 0) / 1e6
    assert by_litre(part) * litres == pytest.approx(module_wh(part))
    assert by_kilogram(part) * part.mass_g / 1000 == pytest.approx(module_wh(part))


def test_a_factor_makes_every_row_better_and_none_worse() -> None:
    before = generic()
    for stretch in STRETCHES:
        after = stretch.apply(before, 1.5)
        for part in before.family(stretch.family).values():
            changed = after.family(stretch.family)[part.id]
            assert (changed.mass_g, changed.price) == (part.mass_g, part.price)
            if stretch.family == "module":
                assert by_litre(changed) == pytest.approx(1.5 * by_litre(part), rel=0.01)
                ohms = changed.number("resistance_dc_mohm")
                assert ohms <= part.number("resistance_dc_mohm") / 1.5 + 1e-9
        assert {pair.motor for pair in after.pairs} == {pair.motor for pair in before.pairs}
