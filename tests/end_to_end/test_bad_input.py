"""Bad input of every kind: one message that lists all of it, and nothing written.

Each case spoils a project, its route or its own catalogue and runs the real command; what is
spoilt but readable (decimal commas, mixed line ends) must be read.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from bomplan.catalog.sources import shipped_catalogs
from bomplan.cli import main
from bomplan.project import write_template

Spoil = Callable[[Path], None]

HEAD = "id,description,mass_kg,price,currency,price_date,source,channels,vehicle\n"
ROW = "my-pedal,a pedal,0.9,85,EUR,2026-10-01,typical,2,car\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A project that stacks a catalogue of its own on the shipped one."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BOMPLAN_CONFIG_DIR", str(tmp_path / "settings"))
    here = tmp_path / "car"
    write_template("garden-pickup", here)
    edit(('catalogs = ["generic"]', 'catalogs = ["generic", "mine"]'))(here)
    (here / "mine").mkdir()
    (here / "mine" / "throttle.csv").write_text(HEAD + ROW, "utf-8")
    return here


def edit(*pairs: tuple[str, str]) -> Spoil:
    def spoil(here: Path) -> None:
        file = here / "project.toml"
        text = file.read_text("utf-8")
        for old, new in pairs:
            assert old in text, old
            text = text.replace(old, new, 1)
        file.write_text(text, "utf-8")

    return spoil


def mine(content: str | bytes) -> Spoil:
    def spoil(here: Path) -> None:
        data = content.encode("utf-8") if isinstance(content, str) else content
        (here / "mine" / "throttle.csv").write_bytes(data)

    return spoil


def whole_file(content: bytes) -> Spoil:
    return lambda here: (here / "project.toml").write_bytes(content) and None


def choices(line: str) -> Spoil:
    return edit(("[choices]", f"[choices]\n{line}"))


def with_own(column: str, text: str) -> Spoil:
    cells = dict(zip(HEAD.strip().split(","), ROW.strip().split(","), strict=True))
    return mine(HEAD + ",".join((cells | {column: text}).values()) + "\n")


GROSS = 'gross_limit = "1680 kg"'
REFUSED: dict[str, tuple[Spoil, tuple[str, ...]]] = {
    "misspelt-key": (edit(("gross_limit =", "gros_limit =")), ("gros_limit", '"gross_limit"')),
    "missing-column": (
        mine(HEAD.replace(",mass_kg", ",mass")  + ROW),
        ("mass_kg is missing", "rename mass to mass_kg?"),
    ),
    "extra-cell": (mine(HEAD + ROW.strip() + ",more\n"), ("10 cells, the header 9",)),
    "negative-mass-project": (edit((GROSS, 'gross_limit = "-1680 kg"')), ("-1680 kg", "negative")),
    "negative-mass-catalogue": (with_own("mass_kg", "-0.9"), ("-0.9", "row 2 (my-pedal)")),
    "ambiguous-comma": (edit((GROSS, 'gross_limit = "1,680 kg"')), ("1,680 kg", "comma")),
    "ambiguous-5,5-kW": (edit(('heater = "600 W"', 'heater = "5,5 kW"')), ("5,5 kW", "5.5")),
    "ambiguous-comma-catalogue": (with_own("mass_kg", '"0,9"'), ("0,9", "decimal point")),
    "wrong-unit": (edit((GROSS, 'gross_limit = "1680 mm"')), ("1680 mm", "mass", "kg, g, t, lb")),
    "unknown-part-locked": (choices('motor = "motor-series-205"'), ("motor-series-205mm",)),
    "unknown-part-excluded": (choices('excluded = ["lfp-cel-100"]'), ("lfp-cell-100",)),
    "unknown-part-owned": (choices("owned = { lfp-cel-100 = 2 }"), ("lfp-cell-100",)),
    "unknown-part-of-family": (choices('parts = { throttle = "my-pedl" }'), ("my-pedal",)),
    "duplicate-ids": (mine(HEAD + ROW + ROW), ("my-pedal stands already in row 2",)),
    "duplicate-id-in-two-families": (
        lambda here: (here / "mine" / "gauge.csv").write_text(
            (shipped_catalogs()["generic"] / "gauge.csv").read_text("utf-8")
            .replace("gauge-ammeter", "my-pedal"), "utf-8") and None,
        ("my-pedal stands already in",),
    ),
    "duplicate-names": (edit(('name = "bed"', 'name = "bonnet"')), ("given twice",)),
    "empty-project": (whole_file(b""), ("is empty",)),
    "empty-catalogue-file": (mine(""), ("the file is empty",)),
    "binary-project": (whole_file(b"\x7fELF\x00\x01\x02"), ("is no text",)),
    "binary-catalogue-file": (mine(b"\x7fELF\x00\x01\x02,"), ("binary data",)),
    "utf-16-project": (whole_file("format = 1\n".encode("utf-16")), ("UTF-16", "UTF-8")),
    "utf-16-catalogue-file": (mine((HEAD + ROW).encode("utf-16")), ("UTF-16", "UTF-8")),
    "nan-project": (edit((GROSS, 'gross_limit = "nan kg"')), ("nan kg", "finite")),
    "nan-bare": (edit(("rolling_resistance = { value = 0.012",
                       "rolling_resistance = { value = nan")), ("rolling_resistance",)),
    "nan-catalogue": (with_own("mass_kg", "NaN"), ("NaN", "not a number")),
    "1e309-project": (edit((GROSS, 'gross_limit = "1e309 kg"')), ("1e309 kg",)),
    "1e309-bare": (edit(("rolling_resistance = { value = 0.012",
                         "rolling_resistance = { value = 1e309")), ("rolling_resistance",)),
    "1e309-catalogue": (with_own("mass_kg", "1e309"), ("1e309",)),
    "1-mb-text-project": (edit(('name = "Market garden pickup"', f'name = "{"x" * 1_000_000}"')),
                          ("larger than 1 MB",)),
    "1-mb-text-catalogue": (with_own("description", "x" * 1_000_000), ("far too long",)),
    "price-of-an-unknown-currency": (with_own("currency", "EURO"), ("EURO", "did you mean EUR?")),
    "no-such-catalogue": (edit(('"mine"]', '"mein"]')), ("mein", "there is no such catalogue")),
    "format-of-the-future": (edit(("format = 1", "format = 2")), ("newer bomplan", "install")),
    "no-toml": (whole_file(b"donor:\n  mass: 3\n"), ("is no valid TOML", "line 1")),
}  # fmt: skip


def snapshot(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_in_words(name: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spoil, words = REFUSED[name]
    spoil(folder)
    before = snapshot(folder.parent)
    assert main(["plan", "car"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("error: ") == 1
    assert "Traceback" not in told.err
    assert len(told.err) < 20_000
    for word in words:
        assert word in told.err, told.err
    assert snapshot(folder.parent) == before


def test_every_fault_of_every_file_of_one_kind_is_in_one_message(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(
        ("wheelbase =", "wheelbse ="),
        (GROSS, 'gross_limit = "1,680 kg"'),
        ('distance = "70 km"', 'distance = "70 kg"'),
        ('condition = "summer, new"', 'condition = "summer"'),
    )(folder)
    assert main(["plan", "car"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("error: 4 things cannot be used")
    for word in ("wheelbse", "1,680 kg", "70 kg", "summer"):
        assert word in told


READ: dict[str, Spoil] = {
    "semicolons-and-decimal-commas": mine((HEAD + ROW).replace(",", ";").replace("0.9", "0,9")),
    "sep-line": mine("sep=;\n" + (HEAD + ROW).replace(",", ";").replace("0.9", "0,9")),
    "tabs": mine((HEAD + ROW).replace(",", "\t")),
    "mixed-line-ends": mine((HEAD + ROW).replace("\n", "\r\n", 1) + ROW.replace("my-", "other-")
                            .replace("\n", "\r")),
    "byte-order-mark": mine(b"\xef\xbb\xbf" + (HEAD + ROW).encode()),
    "mixed-line-ends-project": lambda here: (here / "project.toml").write_bytes(
        (here / "project.toml").read_bytes().replace(b"\n", b"\r\n", 40)) and None,
    "byte-order-mark-project": lambda here: (here / "project.toml").write_bytes(
        b"\xef\xbb\xbf" + (here / "project.toml").read_bytes()) and None,
    "decimal-comma-project": edit(
        ("format = 1", "format = 1\ndecimal_comma = true"),
        ('heater = "600 W"', 'heater = "0,6 kW"'),
    ),
    "thin-spaces": edit((GROSS, 'gross_limit = "1\u202f680 kg"')),
}  # fmt: skip


@pytest.mark.parametrize("name", READ)
def test_read_without_a_word(name: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    READ[name](folder)
    assert main(["project", "check", "car", "--verbose"]) == 0
    out = capsys.readouterr().out
    assert "limits 1680 kg gross" in out
    assert (
        main(["catalog", "show", "my-pedal", "--catalog", "generic", "--catalog", "car/mine"]) == 0
    )
    words = capsys.readouterr().out.split()
    assert words[words.index("mass_kg") + 1] == "0.9"


def family_that_never_fits(here: Path) -> None:
    """A catalogue of one's own whose only throttles are made for another kind of vehicle."""
    generic = shipped_catalogs()["generic"]
    for path in generic.glob("*.csv"):
        if path.stem != "offers":
            (here / "mine" / path.name).write_bytes(path.read_bytes())
    (here / "mine" / "throttle.csv").write_text(
        HEAD + ROW.replace(",2,car", ",2,motorcycle"), "utf-8"
    )
    edit(('["generic", "mine"]', '["mine"]'))(here)


def family_that_is_missing(here: Path) -> None:
    family_that_never_fits(here)
    (here / "mine" / "throttle.csv").unlink()


@pytest.mark.slow
@pytest.mark.parametrize("spoil", [family_that_never_fits, family_that_is_missing])
def test_nothing_of_a_family_fits(spoil: Spoil, folder: Path) -> None:
    spoil(folder)
    done = subprocess.run(
        [sys.executable, "-m", "bomplan", "plan", "car", "--out", "o"],
        cwd=folder.parent,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=600,
        check=False,
    )
    assert done.returncode == 1, done.stderr
    assert "NO PLAN (PROVEN)" in done.stdout
    assert "throttle" in done.stdout
    assert "Traceback" not in done.stderr
