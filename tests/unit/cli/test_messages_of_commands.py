"""What a person reads when a catalogue, a list, a mapping, a setting or an output is wrong.

Every case runs the real command in an empty folder; its text stands in
``tests/golden/messages/``. A test at the end holds the snapshots against the codes that the
sources can give, so that no message is without one.
"""

from __future__ import annotations

import ast
import errno
import json
import os
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import pytest
from golden_files import compare, shown_codes

import bomplan
from bomplan import api
from bomplan.cli import main
from bomplan.errors import InputError

PACKAGE = Path(bomplan.__file__).parent
RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1"

Prepare = Callable[[], list[str]]

HEAD = "id,description,mass_kg,price,currency,price_date,source,channels,vehicle"
ROW = "my-pedal,pedal,0.9,85,EUR,2026-10-01,typical,2,car"


def write(name: str, content: str | bytes) -> None:
    path = Path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)


def table(*rows: str, head: str = HEAD, name: str = "throttle") -> Prepare:
    """A catalogue of one table."""
    return raw("\n".join([head, *rows]) + "\n", name)


def raw(content: str | bytes, name: str = "throttle") -> Prepare:
    def prepare() -> list[str]:
        write(f"parts/{name}.csv", content)
        return ["catalog", "check", "parts"]

    return prepare


def whole(*edits: tuple[str, str, str]) -> Prepare:
    """The shipped tables with texts replaced: table, old, new."""

    def prepare() -> list[str]:
        api.export_catalog(["generic"], "parts")
        for name, old, new in edits:
            path = Path(f"parts/{name}.csv")
            text = path.read_text("utf-8")
            assert old in text, old
            path.write_text(text.replace(old, new, 1), "utf-8")
        return ["catalog", "check", "parts"]

    return prepare


def without_rows(name: str, start: str) -> Prepare:
    """The shipped tables without the rows of one that begin so."""

    def prepare() -> list[str]:
        words = whole()()
        path = Path(f"parts/{name}.csv")
        lines = path.read_text("utf-8").splitlines(keepends=True)
        path.write_text("".join(x for x in lines if not x.startswith(start)), "utf-8")
        return words

    return prepare


def workbook(change: Callable[[openpyxl.Workbook], None], name: str = "parts.xlsx") -> Prepare:
    def prepare() -> list[str]:
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.title = "throttle"
        sheet.append(HEAD.split(","))
        sheet.append(ROW.split(","))
        change(book)
        book.save(name)
        return ["catalog", "check", name]

    return prepare


def archive(**entries: bytes) -> Prepare:
    """A zip file that says it is a workbook."""

    def prepare() -> list[str]:
        with zipfile.ZipFile("parts.xlsx", "w", zipfile.ZIP_DEFLATED) as file:
            for name, content in entries.items():
                file.writestr(name.replace("__", "/").replace("_DOT_", "."), content)
        return ["catalog", "check", "parts.xlsx"]

    return prepare


def command(*words: str, **files: str | bytes) -> Prepare:
    def prepare() -> list[str]:
        for name, content in files.items():
            write(name.replace("__", "/").replace("_DOT_", "."), content)
        return list(words)

    return prepare


def cell(row: str, column: str, text: str) -> Prepare:
    cells = dict(zip(HEAD.split(","), row.split(","), strict=True)) | {column: text}
    return table(",".join(cells.values()))


def set_cell(where: str, value: object) -> Callable[[openpyxl.Workbook], None]:
    def change(book: openpyxl.Workbook) -> None:
        book["throttle"][where] = value

    return change


def more_sheets(book: openpyxl.Workbook) -> None:
    book["throttle"].title = "throtle"


def two_sheets(book: openpyxl.Workbook) -> None:
    book["throttle"].title = "Pedals"
    book.create_sheet("Grips").append(["Name"])


def wide(book: openpyxl.Workbook) -> None:
    book["throttle"].append(["x"] * 401)


SHOP = "Article,Name,Weight,Price\nTP-1,pedal,0.9,85\n"
SETS = [
    word
    for pair in ("currency=EUR", "price_date=2026-10-01", "source=typical", "channels=2",
                 "vehicle=car")
    for word in ("--set", pair)
]  # fmt: skip
IMPORT = ["catalog", "import", "shop.csv", "--into", "own", "--family", "throttle"]


def importing(text: str, *words: str, source: str = SHOP) -> Prepare:
    """An import with this ``import.toml`` in place."""
    return command(*(words or ("catalog", "import", "shop.csv", "--into", "own")),
                   shop_DOT_csv=source, own__import_DOT_toml=text)  # fmt: skip


def update(text: str, *words: str) -> Prepare:
    def prepare() -> list[str]:
        write("parts/throttle.csv", f"{HEAD}\n{ROW}\n")
        write("edits.csv", text)
        return ["catalog", "update", "parts", "--from", "edits.csv", *words]

    return prepare


def listed(*rows: str, words: tuple[str, ...] = ("--placement", "bed=4")) -> Prepare:
    def prepare() -> list[str]:
        write("list.csv", "\n".join(["family,part,quantity,supplier", *rows]) + "\n")
        return ["audit", "list.csv", "--project", "example:garden-pickup", *words]

    return prepare


def saved_plan(change: Callable[[dict[str, object]], object]) -> Prepare:
    def prepare() -> list[str]:
        data = json.loads((RELEASED / "plan.json").read_text("utf-8"))
        change(data)
        write("plan.json", json.dumps(data))
        return ["audit", "plan.json"]

    return prepare


def project(*changes: str) -> Prepare:
    def prepare() -> list[str]:
        words = [word for change in changes for word in ("--set", change)]
        assert main(["new", "p", "--from", "garden-pickup", *words]) == 0
        return ["plan", "p"]

    return prepare


def without_rates() -> list[str]:
    project()()
    file = Path("p/project.toml")
    text = file.read_text("utf-8")
    place = text.index("[rates]")
    file.write_text(text[:place] + text[text.index("\n", text.index("USD")) :], "utf-8")
    return ["plan", "p"]


def settings(text: str | bytes) -> Prepare:
    def prepare() -> list[str]:
        path = Path(os.environ["BOMPLAN_CONFIG_DIR"]) / "settings.toml"
        path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
        return ["settings"]

    return prepare


CORE = ("motor,motor-series-205mm,1,", "controller,chopper-120v-450a,1,")
MODULES = ("module,lfp-cell-100,40,",)
CASES: dict[str, dict[str, Prepare]] = {
    "catalog": {
        "not-found": command("catalog", "check", "generc"),
        "not-a-folder": command("catalog", "check", "parts.csv", parts_DOT_csv="x"),
        "no-tables": command("catalog", "check", "parts", parts__notes_DOT_txt="x"),
        "no-such-family": command("catalog", "list", "throtle"),
        "no-such-part": command("catalog", "show", "lfp-cel-100"),
        "unknown-file": raw(f"{HEAD}\n{ROW}\n", "throtle"),
        "empty-file": raw(""),
        "header-only-blank": raw("\n\n"),
        "not-csv": raw(b"PK\x03\x04 and so on"),
        "utf-16": raw(f"{HEAD}\n{ROW}\n".encode("utf-16")),
        "latin-1": raw(f"{HEAD}\n{ROW}\n".replace("pedal,", "p\xe9dale,").encode("latin-1")),
        "binary-file": raw(b"id,\x00\x01\x02description\n"),
        "broken-csv": raw(HEAD + '\n"my-pedal,pedal\n'),
        "file-too-large": raw(b"x" * 20_000_001),
        "missing-column": table("my-pedal,0.9", head="id,mass"),
        "duplicate-column": table(ROW + ",1", head=HEAD + ",mass_kg"),
        "header-too-long": table(ROW + ",x", head=HEAD + "," + "y" * 501),
        "extra-cell": table(ROW + ",one,two"),
        "extra-cell-no-name": table(ROW + ",one,two", head=HEAD + ",,shelf"),
        "missing-value": cell(ROW, "mass_kg", ""),
        "negative-mass": cell(ROW, "mass_kg", "-0.9"),
        "too-large": cell(ROW, "channels", "9"),
        "not-a-number": cell(ROW, "mass_kg", "0.9 kg"),
        "comma": cell(ROW, "mass_kg", '"0,9"'),
        "nan": cell(ROW, "mass_kg", "NaN"),
        "1e309": cell(ROW, "mass_kg", "1e309"),
        "not-whole": cell(ROW, "channels", "1.5"),
        "not-a-choice": cell(ROW, "vehicle", "cra"),
        "not-a-date": cell(ROW, "price_date", "1.10.2026"),
        "bad-id": cell(ROW, "id", "my pedal"),
        "text-too-long": cell(ROW, "description", "x" * 501),
        "text-of-1-mb": cell(ROW, "description", "x" * 1_000_000),
        "control-character": cell(ROW, "description", "bell\x07"),
        "money": cell(ROW, "price", "85.005"),
        "money-currency": cell(ROW, "currency", "EURO"),
        "duplicate-id": table(ROW, ROW),
        "ambiguous-number": raw(
            f"{HEAD}\n{ROW}\nother,x,1.250,2,EUR,2026-10-01,typical,2,car\n".replace(",", ";")
            .replace("0.9", "0,9")
        ),
        "not-yes-or-no": whole(("module", ",no,", ",perhaps,")),
        "duplicate-row": whole(
            ("suppliers", "northern-wholesale", "harbour-parts"),
        ),
        "dangling": whole(("pairs", "chopper-120v-450a", "chopper-120v-450")),
        "pair-kind": whole(
            ("pairs", "motor-mid-72v-14kw,inverter-72v-400a", "motor-mid-72v-14kw,chopper-72v-400a")
        ),
        "curve-span": whole(("curves", "lead-flooded,0,", "lead-flooded,0.01,")),
        "unknown-temperatures": without_rows("temperatures", "lto,"),
        "price-order": whole(("extras", "140.00,70.00,320.00", "140.00,170.00,120.00")),
        "unknown-supplier": whole(("offers", "harbour-parts", "harbor-parts")),
        "everything-at-once": whole(
            ("module", "2026-", "2026/"), ("throttle", "typical", "typicl"), ("lug", "0.", "-0.")
        ),
        "workbook-sheet-name": workbook(more_sheets),
        "workbook-error": workbook(set_cell("C2", "#REF!")),
        "workbook-formula": workbook(set_cell("C2", "=1+1")),
        "workbook-too-wide": workbook(wide),
        "workbook-empty": command("catalog", "check", "parts.xlsx", parts_DOT_xlsx=b""),
        "workbook-old": command(
            "catalog", "check", "parts.xlsx", parts_DOT_xlsx=b"\xd0\xcf\x11\xe0" + b"x" * 99
        ),
        "workbook-no-tables": workbook(two_sheets),
        "workbook-macros": archive(xl__vbaProject_DOT_bin=b"x"),
        "workbook-links": archive(xl__externalLinks__externalLink1_DOT_xml=b"x"),
        "workbook-broken": archive(xl__workbook_DOT_xml=b"<"),
        "workbook-too-large": archive(xl__sheet_DOT_xml=b" " * 200_000_001),
        "shipped": command("catalog", "import", "shop.csv", "--into", "generic", shop_DOT_csv=SHOP),
        "query": command("catalog", "list", "module", "--where", "chemstry=lfp", "--where", "x"),
    },
    "exchange": {
        "which-family": command(*IMPORT[:5], shop_DOT_csv=SHOP),
        "family": command(*IMPORT[:6], "throtle", shop_DOT_csv=SHOP),
        "missing-columns": command(*IMPORT, shop_DOT_csv=SHOP),
        "no-such-column": command(
            *IMPORT, *SETS, "--map", "Wieght=mass_kg", "--ignore", "Color", shop_DOT_csv=SHOP
        ),
        "unknown-target": command(
            *IMPORT, *SETS, "--map", "Weight=mas_kg", "--set", "vehicel=car", shop_DOT_csv=SHOP
        ),
        "unit": command(*IMPORT, *SETS, "--map", "Weight=mass_kg [stone]", shop_DOT_csv=SHOP),
        "not-a-figure": command(
            *IMPORT, *SETS,
            shop_DOT_csv=SHOP + "TP-2,pedal,5 mm,1\nTP-3,pedal,1 kg,$ 5\nTP-4,pedal,\"1,5\",1\n",
        ),
        "in-the-catalogue": command(*IMPORT, *SETS, shop_DOT_csv=SHOP + "TP 2,pedal,-1,1\n"),
        "sheet": workbook(two_sheets, "shop.xlsx"),
        "mapping-syntax": importing("[shop\n"),
        "mapping-format": importing("format = 9\n"),
        "mapping-shape": importing(
            'format = 1\nother = 3\n[shop]\nfamily = "throtle"\n[x]\nfamily = "throttle"\n'
            'colums = 1\ncolumns = 3\nvalues = 4\n[y]\nfamily = "throttle"\n'
            '[y.columns]\nWeight = "mas_kg"\n'
        ),
        "mapping-columns-gone": importing(
            'format = 1\n[shop]\nfamily = "throttle"\n[shop.columns]\nGewicht = "mass_kg"\n',
            "catalog", "import", "shop.csv", "--into", "own", "--as", "shop",
        ),
        "export-exists": command(
            "catalog", "export", "generic", "parts", parts__motor_DOT_csv="mine"
        ),
        "export-target": command("catalog", "export", "generic", "parts.ods"),
        "update-unknown-part": update("id,mass_kg\nmy-pedl,1\n,2\n"),
        "update-unknown-column": update("id,mass_kg,chemistry\nmy-pedal,1,lfp\n"),
        "update-columns": update("part,mass_kg\nmy-pedal,1\n"),
        "update-no-date": update("id,price\nmy-pedal,86\n"),
        "update-not-a-figure": update("id,mass_kg\nmy-pedal,light\n"),
        "update-not-a-folder": command(
            "catalog", "update", "nowhere", "--from", "e.csv", e_DOT_csv="id,price\n"
        ),
    },
    "list": {
        "part": listed(*CORE, *MODULES, "gauge,gauge-x,1,", ",,1,"),
        "family": listed(*CORE, "gauge,lfp-cell-100,40,"),
        "quantity": listed(*CORE, "module,lfp-cell-100,forty,"),
        "supplier": listed(*CORE, "module,lfp-cell-100,40,harbor-parts"),
        "two-of-family": listed(*CORE, *MODULES, "module,lfp-cell-200,40,"),
        "empty": listed(),
        "missing-column": command(
            "audit", "list.csv", "--project", "example:garden-pickup",
            list_DOT_csv="prt,number\nlfp-cell-100,3\n",
        ),
        "no-core": listed(*CORE),
        "bay": listed(*CORE, *MODULES, words=("--placement", "attic=4")),
        "pack": listed(*CORE, *MODULES, words=()),
        "ratio": listed(*CORE, *MODULES, words=("--placement", "bed=4", "--ratio", "9")),
    },
    "plan": {
        "unreadable": command("audit", "plan.json"),
        "not-json": command("audit", "plan.json", plan_DOT_json='{"format": '),
        "not-a-plan": command("audit", "plan.json", plan_DOT_json="{}"),
        "too-large": command("audit", "plan.json", plan_DOT_json=b" " * 20_000_001),
        "version": saved_plan(lambda data: data.update(version="one")),
        "newer": saved_plan(lambda data: data.update(version=99)),
        "field": saved_plan(lambda data: data.update(status="great", extra=1)),
        "parts": saved_plan(lambda data: data.update(parts_used={"parts": [{"id": 1}]})),
        "project": saved_plan(lambda data: data.update(project_used={})),
        "audit-part-missing": saved_plan(
            lambda data: data["parts_used"]["parts"].clear()  # type: ignore[index]
        ),
        "audit-bay-unknown": saved_plan(
            lambda data: data["placement"][0].update(bay="attic")  # type: ignore[index]
        ),
        "audit-bay-too-small": saved_plan(
            lambda data: data["project_used"]["bays"][0].update(length_mm=20)  # type: ignore[index]
        ),
        "contradicts": saved_plan(
            lambda data: [
                part["figures"].update(cell_v_charge=-4.2)
                for part in data["parts_used"]["parts"]  # type: ignore[index]
                if part["family"] == "module"
            ]
        ),
        "audit-line-missing": saved_plan(
            lambda data: data["lines"].pop(0)  # type: ignore[attr-defined]
        ),
        "audit-line-twice": saved_plan(
            lambda data: data["lines"].append(data["lines"][0])  # type: ignore[attr-defined, index]
        ),
        "no-project": command("plan", ".", x_DOT_txt="x"),
        "references": project(
            "choices.motor=motor-series-205", "choices.controller=lfp-cell-100",
            "choices.excluded=[lfp-cell-10]", "choices.owned.lfp-cel-20=4",
            "choices.parts.throtle=x", "choices.parts.module=lfp-cell-100",
            "choices.suppliers=[harbor-parts]", "choices.chemistries=[lpf]",
            "choices.owned.lfp-cell-100=-1", "choices.requires.shunt-300a=[shunt-500a]",
            "choices.forbids.shunt-300a=[gauge-dial]",
        ),
        "references-budget": project(
            "budget.at_hand=[crimp-tol]", "budget.passed=[aproval]",
            "budget.gate_days.stripped=2000",
        ),
        "references-places": project("places.parts[1].family=module"),
        "tyre": project("donor.tyres.front=4.00-18 64S", "donor.tyres.rear=185/65 R15 300H"),
        "rates": without_rates,
        "no-such-key": command("project", "set", "p/project.toml", "donor.gross.x=1", "bays[9].x=1",
                               p__project_DOT_toml='format = 1\n[donor]\ngross = "1 kg"\n'),
    },
    "compare": {
        "currencies": command("compare", "example:courier-motorcycle", "example:camper-van"),
        "no-scenarios": command("compare", "example:camper-van", "--scenarios"),
        "no-such-scenario": command(
            "plan", "example:courier-motorcycle", "--scenario", "with pasenger"
        ),
    },
    "settings": {
        "syntax": settings("units = us\n"),
        "faults": settings('unit = "us"\nworkers = 0\ncolour = "blue"\n'),
        "unreadable": settings(b"\xff\xfe\x00"),
    },
}  # fmt: skip
ALL = [(room, name) for room, cases in CASES.items() for name in cases]


@pytest.mark.parametrize(("room", "name"), ALL, ids=["/".join(case) for case in ALL])
def test_message(
    room: str,
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    words = CASES[room][name]()
    if (room, name) == ("exchange", "sheet"):
        words = ["catalog", "import", "shop.xlsx", "--into", "own", "--family", "throttle"]
    before = sorted(tmp_path.rglob("*"))
    capsys.readouterr()
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "Traceback" not in told.err
    assert told.err.startswith("error: ")
    # No more than a screen of text for each thing that is wrong, and nothing written.
    assert max(len(line) for line in told.err.splitlines()) < 900
    assert sorted(tmp_path.rglob("*")) == before
    text = told.err.replace(os.environ["BOMPLAN_CONFIG_DIR"], "SETTINGS")
    assert str(tmp_path) not in text
    compare(room, name, text)


@pytest.mark.parametrize(
    ("name", "number"),
    [
        ("read-only", errno.EACCES),
        ("full", errno.ENOSPC),
        ("name-too-long", errno.ENAMETOOLONG),
        ("in-the-way", errno.EISDIR),
        ("failed", errno.EIO),
    ],
)
def test_message_of_the_disk(name: str, number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    from bomplan.report import files

    def fall(*_: object) -> Path:
        raise OSError(number, "as the system says it", "out/plan.json")

    monkeypatch.setattr(files, "_write_part", fall)
    with pytest.raises(InputError) as caught:
        files.replace_files({Path("out/plan.json"): b""})
    compare("output", name, str(caught.value) + "\n")
    Path("out").rmdir()


def test_message_of_an_output_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from bomplan.report import files

    monkeypatch.chdir(tmp_path)
    write("out", "a file")
    with pytest.raises(InputError) as caught:
        files.write_outputs(Path("out"), {"plan.json": b""})
    compare("output", "not-a-folder", str(caught.value) + "\n")
    monkeypatch.setattr(files, "_try_lock", lambda _: "taken")
    monkeypatch.setattr(files, "LOCK_PATIENCE_S", 0.0)
    with pytest.raises(InputError) as caught:
        files.write_outputs(Path("other"), {"plan.json": b""})
    compare("output", "busy", str(caught.value) + "\n")


@pytest.mark.parametrize(
    ("name", "text", "currency"),
    [
        ("not-an-amount", "1,200", "EUR"),
        ("negative", "-5", "EUR"),
        ("too-many-decimals", "5.005", "EUR"),
        ("no-decimals", "5.5", "JPY"),
        ("unknown-currency", "5", "EURO"),
    ],
)
def test_message_of_money(name: str, text: str, currency: str) -> None:
    from bomplan.money import parse_money

    with pytest.raises(InputError) as caught:
        parse_money(text, currency)
    compare("money", name, str(caught.value) + "\n")


def test_message_of_a_rate() -> None:
    from bomplan.money import convert

    with pytest.raises(InputError) as caught:
        convert(100, 0, "USD", "EUR")
    compare("money", "rate", str(caught.value) + "\n")


def test_message_of_a_hill_too_short() -> None:
    from bomplan.design.roads import road
    from bomplan.project.records import RoutePoint

    points = [
        RoutePoint(distance_m=share * 100.0, speed_limit_m_s=14.0, elevation_m=share * 40.0)
        for share in (0.0, 1.0)
    ]
    with pytest.raises(InputError) as caught:
        road("route hill.csv", points)
    compare("project", "route-profile", str(caught.value) + "\n")


# Codes whose message cannot be brought about by an input, each with the reason.
UNREACHED = {
    "money.too-large": "sums beyond 64 bits; tested beside the model",
    "project.unreadable": "needs a failing disk",
    "catalog.unreadable": "needs a failing disk",
    "new.unwritable": "its text comes from the operating system",
    "readings.unwritable": "its text comes from the operating system",
    "quantity.not-whole": "a caller's number, never a file's text",
    "project.invalid": "what the record library might say and none of our fields can raise",
    "workbook.too-long": "a bill of twenty thousand lines",
    "catalog.none-named": "a caller's empty list; commands fall back to generic",
    "list.not-for-sale": "a supplier that the project shuts out; tested beside the list",
    "compare.nothing": "a catalogue without any module, motor or supplier",
    "project.missing-rate": "the references are checked before",
    "project.stale-rates": "a caution that stops nothing; its words are held by test_rates_day",
    "references.goal-energy": "asks for a project in another currency; held by test_references",
}
PREFIXES = {
    "bomplan/catalog/cells.py": "catalog.",
    "bomplan/catalog/rows.py": "catalog.",
    "bomplan/catalog/load.py": "catalog.",
    "bomplan/catalog/links.py": "catalog.",
    "bomplan/catalog/mapping.py": "import.",
    "bomplan/audit/typed_list.py": "list.",
    "bomplan/requirements/references.py": "references.",
    "bomplan/project/check.py": "project.",
    "bomplan/project/route.py": "route.",
    "bomplan/project/text.py": "project.",
    "bomplan/quantities/text.py": "quantity.",
}
MAKERS = {"Fault", "Problem", "fault", "_fault", "_unknown", "_fail", "fail", "_error"}


def codes_in_sources() -> Iterator[str]:
    """The code of every Fault and Problem that is written out in the sources."""
    for path in sorted(PACKAGE.rglob("*.py")):
        place = f"bomplan/{path.relative_to(PACKAGE).as_posix()}"
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            maker = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if maker not in MAKERS:
                continue
            given = [*node.args[:1], *(k.value for k in node.keywords if k.arg == "code")]
            for code in given:
                if not isinstance(code, ast.Constant) or not isinstance(code.value, str):
                    continue
                if maker == "Fault" and "." in code.value:
                    yield code.value
                elif maker != "Fault" and place in PREFIXES and " " not in code.value:
                    yield PREFIXES[place] + code.value


def test_every_code_has_a_snapshot() -> None:
    written = set(codes_in_sources())
    assert len(written) > 130
    assert written - shown_codes() - set(UNREACHED) == set()


def test_what_is_unreached_is_still_there() -> None:
    assert set(UNREACHED) - set(codes_in_sources()) == set()
