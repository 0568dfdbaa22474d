"""Outlets by name: figures of the country's table, and no other country's."""

from __future__ import annotations

from pathlib import Path

import pytest

from bomplan.errors import InputError
from bomplan.project.countries import countries
from bomplan.project.load import read_project
from bomplan.project.new import load_template
from bomplan.project.outlets import outlets, outlets_of

PATH = Path("project.toml")


def text(country: str, outlet: str) -> str:
    from importlib import resources

    found = (
        resources.files("bomplan.project") / "templates" / "courier-motorcycle.toml"
    ).read_text("utf-8")
    found = found.replace("format = 1", f'format = 1\ncountry = "{country}"', 1)
    return found.replace('supply = "230 V"\nsupply_current = "10 A"', f'outlet = "{outlet}"', 1)


def test_every_outlet_is_of_known_countries_and_says_where_it_is_from() -> None:
    for one in outlets().values():
        assert set(one.countries) <= set(countries())
        assert "seen" in one.source or "from memory" in one.source
        for country in one.countries:
            rule = countries()[country].supply_rule
            assert not rule or rule == one.supply_rule
    for country in countries():
        assert outlets_of(country), country


@pytest.mark.parametrize(
    ("country", "outlet", "figures"),
    [
        ("united-states", "north-america-120-15", (120.0, 15.0, "continuous-80")),
        ("australia", "australia-230-15", (230.0, 12.0, "as-rated")),
        ("general", "europe-230-household", (230.0, 10.0, "as-rated")),
    ],
)
def test_an_outlet_gives_volts_amperes_and_rule(
    country: str, outlet: str, figures: tuple[float, float, str]
) -> None:
    charging = read_project(text(country, outlet), PATH).project.charging
    assert (charging.supply_v, charging.supply_a, charging.supply_rule) == figures


def test_an_outlet_of_another_country_is_told() -> None:
    with pytest.raises(InputError) as caught:
        read_project(text("united-states", "europe-230-16"), PATH)
    (fault,) = caught.value.faults
    assert fault.code == "project.no-such-outlet"
    assert "north-america-120-15" in str(fault.allowed)


def test_the_examples_name_theirs() -> None:
    assert load_template("garden-pickup").project.charging.supply_a == 16
    van = load_template("camper-van").project.charging
    assert (van.supply_v, van.supply_a, van.supply_rule) == (240, 40, "continuous-80")
