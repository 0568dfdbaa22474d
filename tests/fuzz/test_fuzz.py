"""Spoilt files by the thousand: never a traceback, a hang, a silent refusal or a lost file.

A fast sample here; 60,000 in the slow lane, in parts that can be run again one by one. A
failure prints the seed; put it into ``MENDED`` once it is mended.
"""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from fuzz.mutate import random_file, spoil_json, spoil_text, with_members
from fuzz.surfaces import SURFACES, hold
from lanes import first_fast

from bomplan.api import read_plan, weigh_template, write_outputs
from bomplan.catalog.sources import shipped_catalogs
from bomplan.cli import main
from bomplan.report import files, spending

RELEASED = Path(__file__).parents[1] / "golden" / "released" / "1"
FAST = 8
PARTS, OF_A_PART = 4, 1_000
# Seeds that once failed.
MENDED: tuple[tuple[str, int], ...] = (
    ("plan", 1_000_023),
    ("plan", 1_000_150),
    ("plan", 1_000_867),
    ("project to edit", 2_000_018),
    ("project to edit", 2_000_057),
)

SHOP = (
    "Name,id,Weight,price,price_date,source,channels,vehicle\n"
    "A pedal,a-pedal,2.0 lb,85,2026-10-01,typical,2,car\n"
)
PRICES = "id,price,mass_kg,price_date\nfuzz-cell-1,99.5,,2026-10-20\nfuzz-cell-2,,3.1,\n"
LEDGER = (
    "line,what,supplier,planned,expected,ordered,paid,received,date,note,shelf\n"
    "motor/motor-series-232mm-used,motor,harbour-parts,1,900.00,1,880.00,1,2026-11-02,dusty,B\n"
    "own/1,paint,,,35.00,2,31.50,2,2026-11-03,,\n"
)


def few_rows(catalog: Path, into: Path, parts: set[str]) -> None:
    """These parts and the first of every family: thousands of runs read it, none spoils it."""
    into.mkdir()
    kept = set(parts)
    tables = {
        path.name: list(csv.reader(io.StringIO(path.read_text("utf-8"))))
        for path in sorted(catalog.glob("*.csv"))
    }
    for head, first, *_ in tables.values():
        kept.add(first[0] if head[0] == "id" else "")
    whole = ("curve", "chemistry")
    for name, (head, *rows) in tables.items():
        ids = [head.index(word) for word in ("id", "part", "motor", "controller") if word in head]
        some = [row for row in rows if head[0] in whole or all(row[at] in kept for at in ids)]
        with (into / name).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([head, *some])


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One of every file that the program reads, all of them sound."""
    folder = tmp_path_factory.mktemp("fuzz")
    car = folder / "car"
    (car / "mine").mkdir(parents=True)
    for name in ("project.toml", "garden-round.csv"):
        (car / name).write_bytes((RELEASED / "project" / name).read_bytes())
    project = car / "project.toml"
    text = project.read_text("utf-8").replace('["generic"]', '["base", "mine"]')
    project.write_text(text, "utf-8")
    generic = shipped_catalogs()["generic"]
    plan = read_plan(RELEASED / "plan.json")
    few_rows(generic, car / "base", {line.part for line in plan.lines})
    with (generic / "module.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    for number, row in enumerate(rows[1:7], 1):
        row[rows[0].index("id")] = f"fuzz-cell-{number}"
    with (car / "mine" / "module.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows[:7])
    for name in ("curves.csv", "temperatures.csv"):
        (car / "mine" / name).write_bytes((generic / name).read_bytes())
    suppliers = (generic / "suppliers.csv").read_text("utf-8")
    (car / "mine" / "suppliers.csv").write_text(suppliers, "utf-8")
    head, first, *_ = (generic / "offers.csv").read_text("utf-8").splitlines()
    part = dict(zip(head.split(","), first.split(","), strict=False))["part"]
    offers = "\n".join([head, *(first.replace(part, f"fuzz-cell-{n}") for n in (1, 2, 3))]) + "\n"
    (car / "mine" / "offers.csv").write_text(offers, "utf-8")
    (car / "ledger.csv").write_text(LEDGER, "utf-8")
    write_outputs(plan, folder / "out", ledger=car / "ledger.csv")
    lines = ["family,part,quantity,supplier"]
    lines += [f"{x.family},{x.part},{x.quantity},{x.supplier}" for x in plan.lines]
    (folder / "list.csv").write_text("\n".join(lines) + "\n", "utf-8")
    (folder / "prices.csv").write_text(PRICES, "utf-8")
    (folder / "shop.csv").write_text(SHOP, "utf-8")
    words = ["catalog", "import", str(folder / "shop.csv"), "--into", str(folder / "fed"), "--yes"]
    sets = ("--family", "throttle", "--map", "Weight=mass_kg [lb]", "--set", "currency=EUR")
    assert main([*words, *sets]) == 0
    (folder / "settings").mkdir()
    settings = (RELEASED / "settings.toml").read_bytes()
    (folder / "settings" / "settings.toml").write_bytes(settings)
    readings = weigh_template(plan) + 'front = "640 kg"\nrear = "700 kg"\n'
    (folder / "readings.toml").write_text(readings, "utf-8")
    return folder


@pytest.fixture
def folder(good: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(good)
    monkeypatch.setenv("BOMPLAN_CONFIG_DIR", str(good / "settings"))
    return good


def run(name: str, seeds: range, folder: Path) -> dict[str, int]:
    """How many of the spoilt files each exit status answered."""
    surface = SURFACES[name]
    good = (folder / surface.file).read_bytes()
    told: dict[str, int] = {}
    failed: list[str] = []
    for seed in seeds:
        try:
            said = hold(surface, seed, folder, good)
        except AssertionError as error:
            failed.append(f"{name}, seed {seed}: {error}")
            continue
        status = said.split("\n", 1)[0].rsplit(" ", 1)[-1]
        told[status] = told.get(status, 0) + 1
    assert not failed, "\n\n".join([f"{len(failed)} failed", *failed[:20]])
    return told


@pytest.mark.parametrize("name", SURFACES)
def test_the_good_file_is_read(name: str, folder: Path) -> None:
    """Else everything would be refused for another reason than the spoiling."""
    surface = SURFACES[name]
    good = (folder / surface.file).read_bytes()
    for number in range(len(surface.commands)):
        one = replace(surface, spoil=lambda data, _: data, commands=surface.commands[number:][:1])
        said = hold(one, 0, folder, good)
        assert " -> 2" not in said.split("\n", 1)[0], said


@pytest.mark.parametrize("value", ["x" * 1_000_000, "9" * 1_000_000], ids=["text", "figure"])
@pytest.mark.parametrize("name", SURFACES)
def test_a_megabyte_in_one_place(name: str, value: str, folder: Path) -> None:
    """In place of a word or a figure: an answer within seconds, and not a megabyte long."""

    def spoil(data: bytes, random: Random) -> bytes:
        if zipfile.is_zipfile(io.BytesIO(data)):
            return with_members(data, lambda content: spoil_once(content, random))
        return spoil_once(data, random)

    def spoil_once(data: bytes, random: Random) -> bytes:
        at = random.choice(list(re.finditer(rb"(?<=[\s,\"=>])\d+(?:\.\d+)?(?=[\s,\"<])", data)))
        return data[: at.start()] + value.encode() + data[at.end() :]

    surface = SURFACES[name]
    good = (folder / surface.file).read_bytes()
    for number in range(len(surface.commands)):
        one = replace(surface, spoil=spoil, commands=surface.commands[number:][:1])
        said = hold(one, 0, folder, good)
        assert max(len(line) for line in said.splitlines()) < 900


@pytest.mark.parametrize("name", SURFACES)
def test_spoilt_files(name: str, folder: Path) -> None:
    run(name, range(FAST), folder)


@pytest.mark.parametrize("seeds", first_fast([range(4), range(4, 100)], 1), ids=["few", "rest-0"])
@pytest.mark.parametrize("name", SURFACES)
def test_files_of_anything_at_all(name: str, seeds: range, folder: Path) -> None:
    surface = replace(SURFACES[name], spoil=random_file)
    good = (folder / surface.file).read_bytes()
    for seed in seeds:
        hold(surface, seed, folder, good)


@pytest.mark.parametrize("name", ["route", "ledger", "prices", "shop list", "typed list"])
def test_a_cell_longer_than_tables_are_read(name: str, folder: Path) -> None:
    """More than Python's own limit of a cell, less than the limit of a file."""
    surface = replace(SURFACES[name], spoil=lambda data, _: data + b"x" * 200_000 + b"\n")
    hold(surface, 0, folder, (folder / surface.file).read_bytes())


@pytest.mark.parametrize(
    "seeds", first_fast([range(60), range(60, 3_000)], 1), ids=["few", "rest-0"]
)
def test_records_that_the_program_keeps_for_itself(seeds: range, tmp_path: Path) -> None:
    """A spoilt one says nothing; it never stops a command."""
    kept = {
        files.RECORD_NAME: (
            '{"files": {"bom.xlsx": ["1f"]}}',
            lambda: files._read_record(tmp_path),
        ),
        "run.json": ('{"ledger": "ledger.csv"}', lambda: spending._told(tmp_path)),
        spending.MEMORY_NAME: (
            '{"read": {"1f": [{"line": "motor", "ordered": "1"}]}}',
            lambda: spending._remembered(tmp_path / spending.MEMORY_NAME),
        ),
    }
    for name, (good, read) in kept.items():
        (tmp_path / name).write_text(good, "utf-8")
        assert read()
        for seed in seeds:
            random = Random(seed)
            spoil = random.choice((spoil_json, spoil_text, random_file))
            (tmp_path / name).write_bytes(spoil(good.encode(), random))
            read()


@pytest.mark.parametrize(("name", "seed"), MENDED)
def test_mended(name: str, seed: int, folder: Path) -> None:
    run(name, range(seed, seed + 1), folder)


@pytest.mark.parametrize("value", [1e300, -1e300, 1e-300, 10**30])
@pytest.mark.parametrize(
    "key",
    [
        "core.final_ratio",
        "project_used.donor.driveline.gear_ratios.0",
        "project_used.routes.route garden-round.csv.0.speed_limit_m_s",
        "project_used.bays.0.length_mm",
        "project_used.bays.1.width_mm",
        "parts_used.parts.1.figures.peak_s",
        "parts_used.parts.2.figures.cells_series",
    ],
)
def test_a_plan_with_a_figure_out_of_this_world(key: str, value: float, folder: Path) -> None:
    """It may run over in an array, of which Python only warns."""

    def spoil(data: bytes, _: Random) -> bytes:
        plan = json.loads(data)
        steps = key.replace("garden-round.csv", "garden-round csv").split(".")
        *above, last = (
            int(step) if step.isdecimal() else step.replace("round csv", "round.csv")
            for step in steps
        )
        here = plan
        for step in above:
            here = here[step]
        here[last] = value
        return json.dumps(plan).encode()

    surface = replace(SURFACES["plan"], spoil=spoil, commands=(("audit", "out"),))
    hold(surface, 0, folder, (folder / surface.file).read_bytes())


@pytest.mark.slow
@pytest.mark.parametrize("part", range(PARTS))
@pytest.mark.parametrize("name", SURFACES)
def test_thousands_of_spoilt_files(name: str, part: int, folder: Path) -> None:
    begin = 1_000_000 * (part + 1)
    told = run(name, range(begin, begin + OF_A_PART), folder)
    # Spoiling is neither always fatal nor always without effect.
    assert told.get("2", 0) >= OF_A_PART // 50, told
    assert told.get("2", 0) <= OF_A_PART * 49 // 50, told


def test_the_mutations_are_by_seed_and_do_something() -> None:
    good = b"one = 1\ntwo = 'b'\nthree = 3.5 kg\n"
    for seed in range(50):
        assert spoil_text(good, Random(seed)) == spoil_text(good, Random(seed))
    assert sum(spoil_text(good, Random(seed)) != good for seed in range(50)) > 40
