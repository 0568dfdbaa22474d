"""Outputs are whole, somebody's own changes are never lost, and trouble is told in words."""

from __future__ import annotations

import errno
import json
import multiprocessing
import os
from pathlib import Path

import pytest

from bomplan.errors import InputError
from bomplan.report import files
from bomplan.report.files import LOCK_NAME, RECORD_NAME, digest, write_outputs

AS_ROOT = hasattr(os, "geteuid") and os.geteuid() == 0


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_writes_into_a_folder_that_it_makes(tmp_path: Path) -> None:
    folder = tmp_path / "out für Ленa, 2"
    written = write_outputs(folder, {"plan.json": b"{}\n", "bom.xlsx": b"PK"})
    assert [one.path.name for one in written] == ["plan.json", "bom.xlsx"]
    assert all(one.kept is None for one in written)
    assert (folder / "bom.xlsx").read_bytes() == b"PK"
    assert names(folder) == sorted([RECORD_NAME, LOCK_NAME, "bom.xlsx", "plan.json"])
    record = json.loads((folder / RECORD_NAME).read_text("utf-8"))
    assert record["files"] == {"bom.xlsx": [digest(b"PK")], "plan.json": [digest(b"{}\n")]}


def test_own_output_is_replaced_without_a_word(tmp_path: Path) -> None:
    write_outputs(tmp_path, {"bom.xlsx": b"one"})
    (written,) = write_outputs(tmp_path, {"bom.xlsx": b"two"})
    assert written.kept is None
    assert (tmp_path / "bom.xlsx").read_bytes() == b"two"


def test_changed_file_is_kept_under_the_next_free_name(tmp_path: Path) -> None:
    target = tmp_path / "bom.xlsx"
    for number, text in ((1, b"my prices"), (2, b"my other prices")):
        write_outputs(tmp_path, {"bom.xlsx": b"ours"})
        target.write_bytes(text)
        (written,) = write_outputs(tmp_path, {"bom.xlsx": b"ours again"})
        assert written.kept == tmp_path / f"bom.kept-{number}.xlsx"
        assert written.kept.read_bytes() == text
        assert target.read_bytes() == b"ours again"


def test_file_that_was_never_ours_is_kept(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes(b"a person's own")
    (written,) = write_outputs(tmp_path, {"plan.json": b"{}"})
    assert written.kept is not None
    assert written.kept.read_bytes() == b"a person's own"


def test_broken_record_loses_nothing(tmp_path: Path) -> None:
    write_outputs(tmp_path, {"bom.xlsx": b"one"})
    (tmp_path / RECORD_NAME).write_bytes(b'{"files": [1, 2')
    (written,) = write_outputs(tmp_path, {"bom.xlsx": b"two"})
    assert written.kept is not None
    assert written.kept.read_bytes() == b"one"


def test_kept_as_a_copy_where_links_are_not_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "no links here")

    (tmp_path / "bom.xlsx").write_bytes(b"mine")
    monkeypatch.setattr(os, "link", no_links)
    (written,) = write_outputs(tmp_path, {"bom.xlsx": b"ours"})
    assert written.kept is not None
    assert written.kept.read_bytes() == b"mine"


def test_symbolic_link_is_not_written_through(tmp_path: Path) -> None:
    outside = tmp_path / "elsewhere.txt"
    outside.write_bytes(b"not ours")
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "bom.xlsx").symlink_to(outside)
    (written,) = write_outputs(folder, {"bom.xlsx": b"ours"})
    assert outside.read_bytes() == b"not ours"
    assert not (folder / "bom.xlsx").is_symlink()
    assert written.kept is not None
    assert written.kept.is_symlink()


def test_full_disk_leaves_the_old_outputs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = {"plan.json": b"old plan", "bom.xlsx": b"old bill"}
    write_outputs(tmp_path, old)
    before = names(tmp_path)
    calls = 0

    def full(_: int) -> None:
        nonlocal calls
        calls += 1
        if calls == 2:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match=r"no room left on this disk.*\[output.full\]"):
        write_outputs(tmp_path, {"plan.json": b"new plan", "bom.xlsx": b"new bill"})
    assert names(tmp_path) == before
    assert {name: (tmp_path / name).read_bytes() for name in old} == old


def test_run_that_died_between_files_is_not_taken_for_a_person(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_outputs(tmp_path, {"a.json": b"a1", "b.json": b"b1"})
    replace = Path.replace

    def die(self: Path, target: Path) -> Path:
        if target.name == "b.json":
            raise KeyboardInterrupt
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", die)
    with pytest.raises(KeyboardInterrupt):
        write_outputs(tmp_path, {"a.json": b"a2", "b.json": b"b2"})
    monkeypatch.undo()
    assert (tmp_path / "a.json").read_bytes() == b"a2"
    assert (tmp_path / "b.json").read_bytes() == b"b1"
    written = write_outputs(tmp_path, {"a.json": b"a3", "b.json": b"b3"})
    assert [one.kept for one in written] == [None, None]


def test_left_overs_of_a_killed_run_are_swept(tmp_path: Path) -> None:
    left = tmp_path / ".bom.xlsx.123-abc.bomplan-part"
    left.write_bytes(b"half")
    write_outputs(tmp_path, {"bom.xlsx": b"whole"})
    assert not left.exists()


@pytest.mark.parametrize(
    ("code", "number"),
    [
        ("output.read-only", errno.EACCES),
        ("output.read-only", errno.EROFS),
        ("output.full", errno.ENOSPC),
        ("output.failed", errno.EIO),
        ("output.name-too-long", errno.ENAMETOOLONG),
    ],
)
def test_trouble_is_told_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: str, number: int
) -> None:
    def trouble(*_: object) -> int:
        raise OSError(number, os.strerror(number), str(tmp_path / "bom.xlsx"))

    monkeypatch.setattr(files, "_write_part", trouble)
    with pytest.raises(InputError) as caught:
        write_outputs(tmp_path, {"bom.xlsx": b""})
    (fault,) = caught.value.faults
    assert fault.code == code
    assert fault.file == str(tmp_path / "bom.xlsx")
    assert fault.hint is not None


def test_a_workbook_open_elsewhere_leaves_the_whole_earlier_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where an open file cannot be replaced: not a new plan beside an old workbook."""
    old = {"plan.json": b"old", "bom.xlsx": b"old", "run.log": b"old"}
    write_outputs(tmp_path, old)
    replace = Path.replace

    def held(self: Path, target: Path) -> Path:
        if target.name == "bom.xlsx":
            raise PermissionError(errno.EACCES, "Permission denied", str(target))
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", held)
    with pytest.raises(InputError, match=r"(?s)open in another program.*close the file"):
        write_outputs(tmp_path, dict.fromkeys(old, b"new"))
    assert {name: (tmp_path / name).read_bytes() for name in old} == old
    monkeypatch.undo()
    written = write_outputs(tmp_path, dict.fromkeys(old, b"new"))
    assert [(one.path.name, one.kept) for one in written] == [(name, None) for name in old]


@pytest.mark.skipif(AS_ROOT or os.name == "nt", reason="root may write anywhere")
def test_read_only_folder(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(InputError, match=r"output\.read-only"):
            write_outputs(tmp_path, {"bom.xlsx": b""})
    finally:
        tmp_path.chmod(0o700)


def test_file_in_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"")
    with pytest.raises(InputError, match=r"output\.not-a-folder"):
        write_outputs(tmp_path / "out", {"bom.xlsx": b""})
    with pytest.raises(InputError, match=r"output\.in-the-way"):
        write_outputs(tmp_path / "out" / "deeper", {"bom.xlsx": b""})


def test_folder_in_place_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "bom.xlsx").mkdir()
    with pytest.raises(InputError, match=r"output\.in-the-way"):
        write_outputs(tmp_path, {"bom.xlsx": b""})


@pytest.mark.parametrize(
    "name", ["", "../bom.xlsx", "a/b/c", "a/", "/a", "a/..", "./a", RECORD_NAME]
)
def test_only_plain_names(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="plain output name"):
        write_outputs(tmp_path, {name: b""})


def test_a_run_that_never_ends_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "LOCK_PATIENCE_S", 0.05)
    with files._turn(tmp_path) as alone:
        assert alone
        with pytest.raises(InputError, match=r"output\.busy"):
            write_outputs(tmp_path, {"bom.xlsx": b""})


def _write_many(folder: str, letter: bytes) -> None:
    for _ in range(20):
        write_outputs(Path(folder), {"plan.json": letter * 5_000, "bom.xlsx": letter * 50_000})


def test_two_runs_at_once_leave_one_whole_set(tmp_path: Path) -> None:
    spawn = multiprocessing.get_context("spawn")
    runs = [spawn.Process(target=_write_many, args=(str(tmp_path), one)) for one in (b"a", b"b")]
    for run in runs:
        run.start()
    for run in runs:
        run.join(60)
        assert run.exitcode == 0
    plan, bill = (tmp_path / "plan.json").read_bytes(), (tmp_path / "bom.xlsx").read_bytes()
    assert plan in (b"a" * 5_000, b"b" * 5_000)
    assert bill == plan[:1] * 50_000
    record = json.loads((tmp_path / RECORD_NAME).read_text("utf-8"))
    assert record["files"] == {"bom.xlsx": [digest(bill)], "plan.json": [digest(plan)]}
    assert names(tmp_path) == sorted([RECORD_NAME, LOCK_NAME, "bom.xlsx", "plan.json"])


def test_drawings_of_an_earlier_plan_go_unless_somebody_changed_them(tmp_path: Path) -> None:
    first = {"plan.json": b"1", "drawings/car.svg": b"car", "drawings/bay-1-boot.svg": b"boot",
             "drawings/bay-2-cab.svg": b"cab", "sheets/a.html": b"a"}  # fmt: skip
    write_outputs(tmp_path, first, renewed="drawings")
    drawings = tmp_path / "drawings"
    (drawings / "bay-2-cab.svg").write_bytes(b"cab, with my notes")
    (drawings / "bay-9-mine.svg").write_bytes(b"never ours")
    write_outputs(tmp_path, {"plan.json": b"2", "drawings/car.svg": b"car 2"}, renewed="drawings")
    assert names(drawings) == ["bay-2-cab.svg", "bay-9-mine.svg", "car.svg"]
    assert (drawings / "bay-2-cab.svg").read_bytes() == b"cab, with my notes"
    assert (tmp_path / "sheets" / "a.html").read_bytes() == b"a"
    record = json.loads((tmp_path / RECORD_NAME).read_text("utf-8"))["files"]
    assert sorted(record) == ["drawings/bay-2-cab.svg", "drawings/car.svg", "plan.json",
                              "sheets/a.html"]  # fmt: skip
    # what is gone may come back, and is ours again
    (again,) = write_outputs(tmp_path, {"drawings/bay-1-boot.svg": b"x"})
    assert again.kept is None


def test_nothing_goes_when_no_folder_is_renewed(tmp_path: Path) -> None:
    write_outputs(tmp_path, {"drawings/bay-1-boot.svg": b"boot"})
    write_outputs(tmp_path, {"drawings/car.svg": b"car"})
    assert names(tmp_path / "drawings") == ["bay-1-boot.svg", "car.svg"]
