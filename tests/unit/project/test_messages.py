"""What a person reads when a project, a route or a figure in them is wrong.

Every case is a released example with one thing spoilt; the text of the message stands in
``tests/golden/messages/project/``. Run with ``BOMPLAN_WRITE_GOLDEN=1`` to write the files
anew, and read the difference before keeping it.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from importlib import resources
from pathlib import Path

import pytest

from bomplan.errors import InputError
from bomplan.project import load_project, write_template

GOLDEN = Path(__file__).parents[2] / "golden" / "messages" / "project"
# A project that nobody edits any more, so that line numbers stay.
RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "project"
PICKUP = (RELEASED / "project.toml").read_text(encoding="utf-8")
ROUND = (RELEASED / "garden-round.csv").read_text(encoding="utf-8")

Spoil = Callable[[Path], None]


def project(*edits: tuple[str, str]) -> Spoil:
    """The pickup with each first text replaced by the second."""

    def write(folder: Path) -> None:
        text = PICKUP
        for old, new in edits:
            assert old in text, old
            text = text.replace(old, new, 1)
        (folder / "project.toml").write_text(text, encoding="utf-8")
        (folder / "garden-round.csv").write_text(ROUND, encoding="utf-8")

    return write


def data(content: bytes, file: str = "project.toml") -> Spoil:
    """A file of these bytes beside an otherwise sound pickup."""

    def write(folder: Path) -> None:
        project()(folder)
        (folder / file).write_bytes(content)

    return write


def route(*edits: tuple[str, str]) -> Spoil:
    """A sound pickup on a short route with each first text replaced by the second."""
    text = (
        "distance_m,speed_limit_kmh,elevation_m,stop_s\n0,50,100,0\n400,50,110,20\n900,30,100,0\n"
    )
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    return data(text.encode(), "garden-round.csv")


def figure(text: str) -> Spoil:
    """A figure of mass replaced by ``text``."""
    return project(('gross_limit = "1680 kg"', f'gross_limit = "{text}"'))


def absent(folder: Path) -> None:
    (folder / "other.toml").write_text(PICKUP, encoding="utf-8")


def nothing(_folder: Path) -> None:
    pass


def folder_instead(folder: Path) -> None:
    (folder / "project.toml").mkdir()


LONG_NAME = "x" * 100
CASES: dict[str, Spoil] = {
    "rooms": project(
        (
            "[[load_cases]]",
            '[[places.parts]]\nfamily = "motor"\nx = "200 mm"\nlength = "500 mm"\n\n'
            '[[places.parts]]\nfamily = "charger"\nx = "200 mm"\nkeep_clear = "5 mm"\n\n'
            '[[places.parts]]\nfamily = "dcdc"\nx = "0 mm"\nlength = "500 mm"\n'
            'width = "500 mm"\nheight = "500 mm"\nhalf_shaft = "90 mm"\n\n[[load_cases]]',
        )
    ),
    "bay-pieces": project(
        (
            "[[load_cases]]",
            '[[bays]]\nname = "well"\nx = "2 m"\nlength = "500 mm"\nwidth = "500 mm"\n'
            'height = "200 mm"\ncable_run = "2 m"\nblocked = [\n  { x = "600 mm" },\n'
            '  { y = "400 mm", width = "120 mm" },\n]\n\n'
            '[[bays]]\nname = "boot"\nx = "2 m"\nlength = "500 mm"\nwidth = "500 mm"\n'
            'height = "200 mm"\ncable_run = "2 m"\n'
            'blocked = [{ x = "200 mm", length = "60 mm" }]\n\n'
            '[[bays]]\nname = "sill"\nx = "2 m"\nlength = "500 mm"\nwidth = "500 mm"\n'
            'height = "200 mm"\ncable_run = "2 m"\n\n[[bays.blocked]]\nx = "0 mm"\n\n'
            "[[load_cases]]",
        )
    ),
    "shared-place": project(
        (
            "[[load_cases]]",
            '[[places.parts]]\nfamily = "motor"\nalso = ["dcdc"]\nx = "200 mm"\n\n'
            '[[places.parts]]\nfamily = "charger"\nalso = ["dcdc", "charger"]\nx = "200 mm"\n\n'
            "[[load_cases]]",
        )
    ),
    "budget": project(
        (
            "[charging]",
            '[[budget.items]]\nname = "inspection"\namount = "200 EUR"\nlow = "300 EUR"\n'
            '[[budget.sold]]\nname = "engine"\namount = "200 EUR"\nhigh = "100 EUR"\n'
            '[[budget.sold]]\nname = "engine"\namount = "50 EUR"\n\n[charging]',
        )
    ),
    "country-unknown": project(('currency = "EUR"', 'currency = "EUR"\ncountry = "atlantis"')),
    "no-such-outlet": project(("[charging]", '[charging]\noutlet = "europe-400-63"')),
    "outlet-twice": project(("[charging]", '[charging]\noutlet = "europe-230-16"')),
    "outlet-elsewhere": project(
        ('currency = "EUR"', 'currency = "EUR"\ncountry = "united-states"'),
        ("[charging]", '[charging]\noutlet = "europe-230-16"'),
    ),
    "no-such-load": project(("load_12v =", 'loads_12v = [{ load = "wiper" }]\nload_12v =')),
    "load-twice": project(
        ("load_12v =", 'loads_12v = [{ load = "horn" }, { load = "horn" }]\nload_12v =')
    ),
    "load-two-figures": project(
        (
            "load_12v =",
            'loads_12v = [{ load = "horn", power = "9 W", current = "1 A" }]\nload_12v =',
        )
    ),
    "overhangs-missing": project(
        ('currency = "EUR"', 'currency = "EUR"\ncountry = "un-r100-m1-n1"')
    ),
    # the file
    "no-file": nothing,
    "no-file-but-others": absent,
    "folder": folder_instead,
    "too-large-file": data(b"#" * 1_000_001),
    "utf-16": data(PICKUP.encode("utf-16")),
    "binary": data(b"PK\x03\x04\0\0"),
    "latin-1": data(b'format = 1\nname = "caf\xe9"\n'),
    "empty": data(b"# nothing yet\n"),
    "syntax": project(('currency = "EUR"', 'currency = "EUR')),
    "endless-number": data(b"format = " + b"9" * 5000),
    "units-outside-quotes": project(
        ('gross_limit = "1680 kg"', "gross_limit = 1680 kg"),
        ('speed = "80 km/h"', "speed = 80 km/h"),
    ),
    "format-newer": project(("format = 1", "format = 2")),
    "format-unknown": project(("format = 1", "format = 0")),
    # keys
    "unknown-key": project(('wheelbase = "2480 mm"', 'wheelbse = "2480 mm"')),
    "key-with-unit": project(('wheelbase = "2480 mm"', "wheelbase_mm = 2480")),
    "key-in-the-wrong-table": project(('currency = "EUR"', 'currency = "EUR"\nwheelbase = "2 m"')),
    "provenance-by-hand": project(('currency = "EUR"', 'currency = "EUR"\nprovenance = {}')),
    "missing-table": project(("[places]", "[placs]")),
    "missing-list": project(("final_ratios = [3.9]", "")),
    "note-key": project(
        ('"0.90 m²", known = "class", spread', '"0.90 m²", known = "class", spred')
    ),
    "note-known": project(('"0.90 m²", known = "class"', '"0.90 m²", known = "clas"')),
    "note-spread": project(
        ('"0.90 m²", known = "class", spread = "10 %"', '"0.90 m²", spread = "10 kg"')
    ),
    # values
    "not-allowed": project(('mounts = ["gearbox"]', 'mounts = ["gearbx"]')),
    "currency-pattern": project(('currency = "EUR"', 'currency = "euro"')),
    "currency-unknown": project(('currency = "EUR"', 'currency = "XXX"')),
    "rates": project(("USD = 0.92", "USD = 0.0\nEUR = 1.0\nDollar = 1.0")),
    "wrong-type-list": project(('wheelbase = "2480 mm"', "wheelbase = [2480]")),
    "wrong-type-flag": project(("brake_booster = true", 'brake_booster = "perhaps"')),
    "wrong-type-table": project(('currency = "EUR"', 'currency = "EUR"\nhouse_rules = "strict"')),
    "wrong-type-date": project(("as_of = 2026-11-01", 'as_of = "spring"')),
    "empty-text": project(('name = "Market garden pickup"', 'name = ""')),
    "too-long": project(('name = "Market garden pickup"', f'name = "{LONG_NAME}"')),
    "too-few": project(("final_ratios = [3.9]", "final_ratios = []")),
    "too-many": project(
        ("[donor]", "".join(f'[[scenarios]]\nname = "s{n}"\n\n' for n in range(51)) + "[donor]")
    ),
    "use-between-charges": project(("[donor]", '[use]\nbetween_charges = "1 m"\n\n[donor]')),
    "out-of-range": project(
        ('length = "560 mm"', 'length = "0 mm"'),
        ('grade = "12 %"', 'grade = "70 %"'),
        ('supply = "230 V"', 'supply = "-230 V"'),
    ),
    "money-currency": project(("[targets]\n", '[targets]\nbudget = "9000 USD"\n')),
    "money-bare": project(("[targets]\n", "[targets]\nbudget = 9000\n")),
    "money-decimals": project(("[targets]\n", '[targets]\nbudget = "9000.123"\n')),
    "infinite": project(
        ("rolling_resistance = { value = 0.012", "rolling_resistance = { value = inf")
    ),
    "whole-number": project(("parallel_max = 4", "parallel_max = 4.5")),
    # figures
    "quantity-empty": figure(""),
    "quantity-bare": project(('gross_limit = "1680 kg"', "gross_limit = 1680")),
    "quantity-comma": figure("1,680 kg"),
    "quantity-comma-decimals": figure("5,5 kg"),
    "quantity-point": project(
        ("format = 1", "format = 1\ndecimal_comma = true"), ("1680 kg", "1.680 kg")
    ),
    "quantity-groups": figure("16 80 kg"),
    "quantity-kind": figure("1680 kW"),
    "quantity-unit": figure("1680 kgs"),
    "quantity-words": figure("heavy"),
    "quantity-rough": figure("~1680 kg"),
    "quantity-nan": figure("nan kg"),
    "quantity-1e309": figure("1e309 kg"),
    "quantity-negative": figure("-1680 kg"),
    "quantity-long": figure("1680" * 1000 + " kg"),
    "quantity-share": project(('reserve = "5 %"', "reserve = 5")),
    # what the parts are to each other
    "name-twice": project(('name = "bed"', 'name = "bonnet"')),
    "no-such-condition": project(('condition = "winter, worn"', 'condition = "winter, wrn"')),
    "no-such-load-case": project(('load_case = "laden"', 'load_case = "two up"')),
    "profile-unknown": project(('profile = "route garden-round.csv"', 'profile = "uddss"')),
    "profile-file": project(('profile = "route garden-round.csv"', 'profile = "garden-round.csv"')),
    "profile-outside": project(
        ('profile = "route garden-round.csv"', 'profile = "route ../garden-round.csv"')
    ),
    "profile-still": project(('profile = "route garden-round.csv"', 'profile = "constant 0 km/h"')),
    "profile-speed": project(('profile = "route garden-round.csv"', 'profile = "constant 80"')),
    "route-absent": project(("route garden-round.csv", "route garden-rund.csv")),
    "weighing-above-limits": project(('front = { value = "585 kg"', 'front = { value = "1585 kg"')),
    "weighing-nothing": project(('people = "0 kg"', 'people = "1000 kg"')),
    "removed": project(('mass = { value = "118 kg"', 'mass = { value = "1118 kg"')),
    "fuel-without-place": project(('fuel_x = "2050 mm"', "")),
    "gears": project(
        ("gear_ratios = [3.65, 2.18, 1.42, 1.0]", "gear_ratios = [1.0, 1.42, 2.18, 36.5]"),
        ('"18 km/h", "36 km/h"', '"36 km/h", "18 km/h"'),
    ),
    "shift-speeds": project(('"18 km/h", "36 km/h", "60 km/h"', '"18 km/h"')),
    "road-nothing": project(('rolling_resistance = { value = 0.012, known = "class" }\n', "")),
    "road-twice": project(
        ("brake_booster = true", 'brake_booster = true\ntyre_pressure = "2.4 bar"')
    ),
    "road-coast-down": project(
        (
            "[donor.weighing]",
            '[donor.coast_down]\na = "110 N"\nc = "0.4 N/(m/s)²"\ntest_mass = "980 kg"\n\n'
            "[donor.weighing]",
        )
    ),
    "road-tyre-rule": project(
        ('rolling_resistance = { value = 0.012, known = "class" }', 'tyre_pressure = "2.4 bar"'),
        ('kind = "car"', 'kind = "motorcycle"'),
    ),
    "zone": project(
        ('x = "-430 mm"', 'zone = "nose"'),
        ('x = "1500 mm"', 'x = "1500 mm"\nzone = "tunnel"'),
        ("[[bays]]", '[[donor.zones]]\nname = "tunnel"\nx = "1500 mm"\n\n[[bays]]'),
    ),
    "corners": project(
        ("[donor.weighing]", '[donor.weighing]\nfront_left = "290 kg"\nfront_right = "290 kg"'),
        ("[donor.driveline]", 'rear_left = "212 kg"\nrear_right = "213 kg"\n\n[donor.driveline]'),
    ),
    "one-corner": project(("[donor.weighing]", '[donor.weighing]\nfront_left = "290 kg"')),
    "sides": project(
        ("[charging]", '[house_rules]\nminimum_left_share = "48 %"\n\n[charging]'),
        ("[donor.weighing]", 'rear_wheel_limit = "450 kg"\n\n[donor.weighing]'),
    ),
    "tyre-count": project(
        ("[donor.weighing]", "[donor.tyres]\nrear_count = 3\n\n[donor.weighing]")
    ),
    "places": project(
        ('motor_x = "250 mm"', 'motor_x = "250 in"'),
        ('charger_x = "-300 mm"', 'charger_x = "-300 m"'),
        ('width = "1150 mm"', 'width = "1150 cm"'),
    ),
    "scenario": project(
        (
            "[charging]",
            '[[scenarios]]\nname = "heavy"\n[scenarios.changes]\ndonor.gross_limit = "1700"\n'
            'donor.colour = "red"\n[[scenarios]]\nname = "long"\n[scenarios.changes]\n'
            '"bays[trunk].length" = "600 mm"\n\n[charging]',
        ),
    ),
    "use-target": project(
        ("[charging]", '[use]\ntarget = "a sumer day"\n\n[charging]'),
        ('pack_voltage_max = "170 V"', 'pack_voltage_max = "170 V"\ncharged_voltage_min = "180 V"'),
    ),
    "goal-budget": project(("[charging]", '[goal]\naim = "most-range"\n\n[charging]')),
    "goal-target": project(
        ("[charging]", '[goal]\naim = "fastest"\ntarget = "a sumer day"\n\n[charging]'),
    ),
    "voltage-window": project(('pack_voltage_min = "70 V"', 'pack_voltage_min = "170 V"')),
    "reserve": project(('reserve = "5 %"', 'reserve = "100 %"')),
    "everything-at-once": project(
        ('wheelbase = "2480 mm"', 'wheelbse = "2480 mm"'),
        ('gross_limit = "1680 kg"', 'gross_limit = "5,5 kW"'),
        ('mass = "13 kg"', 'mass = "-13 kg"'),
        ('name = "bed"', 'name = "bonnet"'),
        ('condition = "winter, worn"', 'condition = "winter"'),
        ("route garden-round.csv", "route lost.csv"),
    ),
    # routes
    "route-empty": data(b"# only a remark\n", "garden-round.csv"),
    "route-binary": data(b"\0", "garden-round.csv"),
    "route-utf-16": data("a,b".encode("utf-16"), "garden-round.csv"),
    "route-too-large": data(b"\n" * 1_000_001, "garden-round.csv"),
    "route-columns": route(("elevation_m", "elevation"), ("stop_s", "stop_s,wind")),
    "route-cells": route(
        ("0,50,100,0", "0,50,100,0,0"), ("400,50,110,20", "400,fast,nan,20"), ("900,30", "900,0")
    ),
    "route-negative-stop": route(("110,20", "110,-20")),
    "route-start": route(("0,50,100,0", "5,50,100,0")),
    "route-order": route(("900,30", "300,30")),
    "route-steep": route(("400,50,110", "400,50,1100")),
    "route-days": route(("400,50,110,20", "400,50,110,86400\n500,50,110,86400")),
    "route-short": route(("400,50,110,20\n900,30,100,0\n", "")),
}


def said(spoil: Spoil, folder: Path) -> str:
    spoil(folder)
    with pytest.raises(InputError) as caught:
        load_project(folder / "project.toml")
    return str(caught.value) + "\n"


def compare(name: str, text: str) -> None:
    golden = GOLDEN / f"{name}.txt"
    if os.environ.get("BOMPLAN_WRITE_GOLDEN"):
        golden.write_text(text, encoding="utf-8")
    assert text == golden.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", CASES)
def test_message(name: str, tmp_path: Path) -> None:
    text = said(CASES[name], tmp_path)
    assert str(tmp_path) not in text
    assert max(len(line) for line in text.splitlines()) < 500
    compare(name, text)


def test_template_messages(tmp_path: Path) -> None:
    with pytest.raises(InputError) as unknown:
        write_template("garden-truck", tmp_path)
    write_template("garden-pickup", tmp_path)
    before = (tmp_path / "project.toml").read_bytes()
    with pytest.raises(InputError) as existing:
        write_template("garden-pickup", tmp_path)
    assert (tmp_path / "project.toml").read_bytes() == before
    text = f"{unknown.value}\n{existing.value}\n".replace(f"{tmp_path}{os.sep}", "FOLDER/")
    compare("new", text)


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match=r"cannot be written: .* \[new\.unwritable\]"):
        write_template("empty", tmp_path / "file" / "project.toml")


def test_cautions(tmp_path: Path) -> None:
    project(
        ('gross_limit = "1680 kg"', 'gross_limit = "1880 kg"'),
        ('fuel = "22 kg"', ""),
        ("aged = true", "aged = false"),
        (
            "[donor.weighing]",
            '[donor.papers_mass]\nmass = "1085 kg"\ndriver = false\n\n[donor.weighing]\n'
            'front_left = "400 kg"\nfront_right = "185 kg"\n'
            'rear_left = "213 kg"\nrear_right = "212 kg"',
        ),
        (
            "[charging]",
            '[house_rules]\nstorage_min = "-20 °C"\n\n'
            '[[bays]]\nname = "well"\nx = "2 m"\ny = "0 mm"\nz = "300 mm"\nlength = "500 mm"\n'
            'width = "500 mm"\nheight = "200 mm"\ncable_run = "2 m"\n\n'
            '[[bays]]\nname = "boot"\nx = "2 m"\ny = "0 mm"\nz = "450 mm"\nlength = "600 mm"\n'
            'width = "600 mm"\nheight = "200 mm"\ncable_run = "2 m"\n'
            'boxes = [{ length = "550 mm" }]\n\n[charging]',
        ),
        ("[charging]", "[use]\nelectricity_price = 30\n\n[charging]"),
    )(tmp_path)
    loaded = load_project(tmp_path / "project.toml")
    compare("cautions", "\n".join(fault.text() for fault in loaded.cautions) + "\n")


def test_caution_on_three_wheels(tmp_path: Path) -> None:
    project(("[donor.weighing]", "[donor.tyres]\nfront_count = 1\n\n[donor.weighing]"))(tmp_path)
    loaded = load_project(tmp_path / "project.toml")
    compare("three-wheels", "\n".join(fault.text() for fault in loaded.cautions) + "\n")


def test_every_code_has_a_snapshot() -> None:
    rooms = resources.files("bomplan")
    patterns = {
        ("quantities", "text.py"): (r'_error\(\s*"([a-z0-9-]+)"', "quantity."),
        ("project", "check.py"): (r'_fault\(\s*"([a-z0-9-]+)"', "project."),
        ("project", "route.py"): (r'_fail\(\s*"([a-z0-9-]+)"', "route."),
        ("project", "text.py"): (r' fail\("([a-z0-9-]+)"', "project."),
    }
    written: set[str] = set()
    for (room, file), (pattern, prefix) in patterns.items():
        source = (rooms / room / file).read_text(encoding="utf-8")
        written |= {prefix + code for code in re.findall(pattern, source)}
    for file in (
        "check_chassis",
        "check_rooms",
        "complete",
        "complaints",
        "load",
        "new",
        "profiles",
        "route",
        "shape",
        "units",
    ):
        source = (rooms / "project" / f"{file}.py").read_text(encoding="utf-8")
        written |= set(re.findall(r'Fault\(\s*"([a-z]+\.[a-z0-9-]+)"', source))
    written.discard("new.unwritable")  # its text comes from the operating system
    # Needs a failing disk, a caller's number that is not whole, and an error of pydantic
    # that none of our fields can raise.
    written -= {"project.unreadable", "quantity.not-whole", "project.invalid"}
    shown = "".join(file.read_text(encoding="utf-8") for file in sorted(GOLDEN.glob("*.txt")))
    assert len(written) > 50
    assert {code for code in written if f"[{code}]" not in shown} == set()
