"""The catalogue's commands as a person runs them: what they print, write and answer."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bomplan.catalog import load_catalog
from bomplan.cli import main


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    capsys.readouterr()
    assert main(list(words)) == status
    return capsys.readouterr().out


def test_list_of_families(capsys: pytest.CaptureFixture[str]) -> None:
    out = run(capsys, "catalog", "list")
    catalog = load_catalog(["generic"])
    assert len(out.splitlines()) == len(catalog.families) + 2
    assert "battery module or cell" in out
    counts = json.loads(run(capsys, "catalog", "list", "--json"))
    assert counts == {name: len(parts) for name, parts in catalog.families.items()}


@pytest.mark.parametrize(
    ("words", "holds"),
    [
        (["--where", "chemistry=lfp"], lambda p: p.text("chemistry") == "lfp"),
        (["--where", "chemistry!=lfp"], lambda p: p.text("chemistry") != "lfp"),
        (["--where", "capacity_ah>=100"], lambda p: p.number("capacity_ah") >= 100),
        (["--where", "capacity_ah<100"], lambda p: p.number("capacity_ah") < 100),
        (["--where", "price<=42"], lambda p: p.price <= 4200),
        (["--where", "mass_kg>20"], lambda p: p.mass_g > 20_000),
        (["--where", "description~pouch"], lambda p: "pouch" in p.description),
        (["--where", "built_in_protection=yes"], lambda p: p.flag("built_in_protection")),
        (["--find", "SALVAGED"], lambda p: "salvaged" in p.description),
        (
            ["--where", "chemistry=lfp", "--where", "capacity_ah=100"],
            lambda p: p.text("chemistry") == "lfp" and p.number("capacity_ah") == 100,
        ),
    ],
)
def test_list_shows_what_meets_the_conditions(
    words: list[str], holds: object, capsys: pytest.CaptureFixture[str]
) -> None:
    assert callable(holds)
    out = run(capsys, "catalog", "list", "module", *words, "--json")
    modules = load_catalog(["generic"]).family("module").values()
    wanted = [part.id for part in modules if holds(part)]
    assert wanted
    assert len(wanted) < len(modules)
    assert [row["id"] for row in json.loads(out)] == wanted
    plain = run(capsys, "catalog", "list", "module", *words)
    assert [line.split()[0] for line in plain.splitlines()[:-2]] == wanted
    assert plain.splitlines()[-1] == f"{len(wanted)} part{'s' * (len(wanted) != 1)}"


def test_show_says_what_columns_mean(capsys: pytest.CaptureFixture[str]) -> None:
    out = run(capsys, "catalog", "show", "lfp-cell-100")
    assert "capacity_ah" in out
    assert "price of one piece" in out
    assert "harbour-parts: 38.50 EUR each from 1" in out
    assert "pairs with" in run(capsys, "catalog", "show", "chopper-120v-450a")
    data = json.loads(run(capsys, "catalog", "show", "lfp-cell-100", "--json"))
    assert data["figures"]["capacity_ah"] == 100
    assert data["offers"][0]["part"] == "lfp-cell-100"


def test_the_whole_round(capsys: pytest.CaptureFixture[str], here: Path) -> None:
    """Export, edit, update, compare, check, plan's catalogue: nothing lost on the way."""
    run(capsys, "catalog", "export", "generic", "mine")
    assert run(capsys, "catalog", "diff", "generic", "mine") == "nothing differs\n"
    Path("prices.csv").write_text("id,price\nthrottle-pedal-dual,99.00\n", "utf-8")
    words = ["catalog", "update", "mine", "--from", "prices.csv", "--price-date", "2026-11-20"]
    before = (here / "mine" / "throttle.csv").read_bytes()
    out = run(capsys, *words)
    assert "Dearer (1)" in out
    assert "nothing written yet: add --yes to write throttle.csv" in out
    assert (here / "mine" / "throttle.csv").read_bytes() == before
    assert "written: mine/throttle.csv" in run(capsys, *words, "--yes")
    assert "nothing to write" in run(capsys, *words, "--yes")
    out = run(capsys, "catalog", "diff", "generic", "mine", status=1)
    assert "throttle, throttle-pedal-dual, price: 85.00 USD -> 99.00 USD (+16.5 %)" in out
    only = run(capsys, "catalog", "diff", "generic", "mine", "--prices", "--json", status=1)
    assert [change["kind"] for change in json.loads(only)] == ["dearer"]
    run(capsys, "catalog", "export", "mine", "mine.xlsx")
    assert run(capsys, "catalog", "diff", "mine", "mine.xlsx") == "nothing differs\n"
    run(capsys, "catalog", "check", "mine.xlsx", "--as-of", "2026-12-01")
    run(capsys, "catalog", "import", "mine.xlsx", "--into", "again", "--yes")
    assert run(capsys, "catalog", "diff", "mine", "again") == "nothing differs\n"


def test_a_workbook_that_somebody_edited_is_kept(
    capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    run(capsys, "catalog", "export", "generic", "mine.xlsx")
    assert "kept" not in run(capsys, "catalog", "export", "generic", "mine.xlsx")
    (here / "mine.xlsx").write_bytes(b"my own work")
    out = run(capsys, "catalog", "export", "generic", "mine.xlsx")
    assert "what stood there is kept as mine.kept-1.xlsx" in out
    assert (here / "mine.kept-1.xlsx").read_bytes() == b"my own work"


def test_import_shows_the_mapping_and_remembers_it(
    capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    Path("shop.csv").write_text(
        "Article,Name,Weight (lb),Colour,Price\nTP-1,pedal,2.2,red,$ 85.00\n", "utf-8"
    )
    words = ["catalog", "import", "shop.csv", "--into", "own"]
    sets = ["currency=USD", "price_date=2026-10-01", "source=typical", "channels=2", "vehicle=car"]
    told = [*words, "--family", "throttle", *(w for one in sets for w in ("--set", one))]
    out = run(capsys, *told)
    assert "  Weight (lb) -> mass_kg [lb]\n" in out
    assert "  currency = USD for every row\n" in out
    assert "throttle, TP-1: pedal, 85.00 USD" in out
    assert "add --yes to write throttle.csv, import.toml" in out
    assert not (here / "own").exists()
    run(capsys, *told, "--yes")
    Path("shop.csv").write_text(
        "Article,Name,Weight (lb),Colour,Price\nTP-1,pedal,2.2,red,$ 80.00\n", "utf-8"
    )
    out = run(capsys, *words, "--set", "price_date=2026-11-01")
    assert "Cheaper (1)" in out


def test_several_catalogues_are_checked_together(
    capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    (here / "own").mkdir()
    (here / "own" / "throttle.csv").write_text(
        "id,description,mass_kg,price,currency,price_date,source,channels,vehicle\n"
        "my-pedal,pedal,0.9,85,EUR,2026-10-01,typical,2,car\n",
        "utf-8",
    )
    out = run(capsys, "catalog", "check", "generic", "own", "--as-of", "2026-12-01")
    assert "generic + own: nothing to complain of" in out
    out = run(capsys, "catalog", "list", "throttle", "--catalog", "generic", "--catalog", "own")
    assert "my-pedal" in out


def test_project_commands(capsys: pytest.CaptureFixture[str], here: Path) -> None:
    run(capsys, "new", "car", "--from", "van", "--set", "donor.weighing.front=931 kg")
    out = run(capsys, "project", "check", "car")
    assert "weighed: 931 kg front" in out
    out = run(capsys, "project", "set", "car", "donor.gross_limit=6000 lb", "show.units=us",
              "choices.excluded=[lfp-cell-20]", "bays[bonnet].ambient=")  # fmt: skip
    assert "donor.gross_limit: '6000 lb' read as 2721.55 kg" in out
    assert "bays[bonnet].ambient: taken out" in out
    text = (here / "car" / "project.toml").read_text("utf-8")
    assert 'gross_limit = "6000 lb"' in text
    assert "# these three stand on the plate of the car" in text
    data = json.loads(run(capsys, "project", "check", "car", "--json"))
    assert {"key": "donor.gross_limit", "written": "6000 lb", "understood": "2721.55 kg"} in data[
        "figures"
    ]
    out = run(capsys, "project", "migrate", "car")
    assert "has the newest format already" in out


@pytest.mark.parametrize(
    "change",
    ["donor.gross_limit=5 km", *(f"choices.parallel_max={n}" for n in ("-1", "nan", "9" * 5_000))],
    ids=["unit", "negative", "nan", "thousands-of-digits"],
)
def test_project_set_writes_nothing_that_is_wrong(
    change: str, capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    run(capsys, "new", "car", "--from", "van")
    before = (here / "car" / "project.toml").read_bytes()
    run(capsys, "project", "set", "car", change, status=2)
    assert (here / "car" / "project.toml").read_bytes() == before
