"""A typed parts list is checked like a plan, and every slip in it is told."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from todays_plan import todays_plan

from bomplan import api
from bomplan.audit.parts_list import ListAudit, PackSaid, audit_parts_list
from bomplan.audit.typed_list import TypedPart, read_typed_list
from bomplan.catalog import Catalog
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Plan
from bomplan.errors import InputError
from bomplan.project.records import Project


@pytest.fixture(scope="module")
def plan() -> Plan:
    return todays_plan()


@pytest.fixture(scope="module")
def project(plan: Plan) -> Project:
    return project_of(plan)


@pytest.fixture(scope="module")
def catalog(plan: Plan) -> Catalog:
    return catalog_of(plan)


@pytest.fixture
def typed(plan: Plan) -> dict[str, TypedPart]:
    """The plan's own bill, as somebody would type it."""
    return {
        line.family: TypedPart(line.family, line.part, line.supplier, line.quantity)
        for line in plan.lines
        if line.family != "shipping"
    }


def said(plan: Plan) -> PackSaid:
    return PackSaid({use.bay: use.series for use in plan.placement})


def write_csv(path: Path, rows: list[str]) -> Path:
    path.write_text("\n".join(rows) + "\n", "utf-8")
    return path


def rows_of(plan: Plan) -> list[str]:
    return ["family,part,quantity,supplier"] + [
        f"{line.family},{line.part},{line.quantity},{line.supplier}" for line in plan.lines
    ]


def test_the_bill_of_a_plan_gets_the_checks_of_the_plan(
    plan: Plan, project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    found = audit_parts_list(project, catalog, typed, said(plan))
    audited = {c.id: c for c in api.audit(plan) if not c.id.startswith("audit.")}
    mine = {c.id: c for c in found.checks if not c.id.startswith("list.")}
    assert mine == audited
    counted = [c for c in found.checks if c.id.startswith("list.quantity.")]
    assert len(counted) == len(typed)
    assert all(check.passed for check in counted)
    assert found.missing == ()
    assert found.plan is not None
    assert found.plan.core == plan.core
    # Its words may be those of an older version, its purchases unlisted; its figures may not.
    plain = {"why": "", "purchases": ()}
    assert [line.model_copy(update=plain) for line in found.plan.lines] == [
        line.model_copy(update=plain) for line in plan.lines
    ]
    assert found.plan.mass is not None
    assert found.plan.mass == plan.mass


def test_the_plan_of_a_list_is_audited_like_any_other(
    plan: Plan, project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    found = audit_parts_list(project, catalog, typed, said(plan))
    assert found.plan is not None
    ours, theirs = ({c.id: c for c in api.audit(one)} for one in (found.plan, plan))
    # The released plan states the driving figures of an older version's physics.
    assert ours.pop("audit.performance").passed
    theirs.pop("audit.performance")
    assert ours == theirs


def test_too_few_pieces_fail(
    plan: Plan, project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    typed["lug"].quantity -= 2
    typed["contactor"].quantity += 1
    checks = {c.id: c for c in audit_parts_list(project, catalog, typed, said(plan)).checks}
    assert not checks["list.quantity.lug"].passed
    assert checks["list.quantity.lug"].margin == -2
    assert checks["list.quantity.contactor"].passed
    assert "(1 spare, neither weighed nor paid here)" in checks["list.quantity.contactor"].words


def test_missing_families_fail_and_the_rest_is_checked(
    plan: Plan, project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    for family in ("throttle", "fuse"):
        del typed[family]
    found = audit_parts_list(project, catalog, typed, said(plan))
    assert set(found.missing) == {"throttle", "fuse"}
    assert found.plan is None
    failed = {c.id for c in found.checks if not c.passed}
    assert {"list.missing.throttle", "list.missing.fuse"} <= failed
    assert "pair.known" in {c.id for c in found.checks}


def test_a_list_reads_from_csv_and_from_a_workbook(
    plan: Plan, catalog: Catalog, tmp_path: Path
) -> None:
    rows = rows_of(plan)
    file = write_csv(tmp_path / "list.csv", rows)
    book = openpyxl.Workbook()
    for row in rows:
        first, second, quantity, *rest = row.split(",")
        book.active.append(
            [first, second, int(quantity) if quantity.isdecimal() else quantity, *rest]
        )
    book.save(tmp_path / "list.xlsx")
    from_csv = read_typed_list(file, catalog)
    assert from_csv == read_typed_list(tmp_path / "list.xlsx", catalog)
    assert len(from_csv) == len({line.family for line in plan.lines} - {"shipping"})


def test_families_and_suppliers_may_be_left_out(
    plan: Plan, project: Project, catalog: Catalog, tmp_path: Path
) -> None:
    file = write_csv(
        tmp_path / "list.csv",
        ["Item;Qty"] + [f"{x.part};{x.quantity}" for x in plan.lines if x.family != "shipping"],
    )
    found = audit_parts_list(project, catalog, read_typed_list(file, catalog), said(plan))
    assert all(c.passed for c in found.checks if c.id.startswith("list."))


def test_bays_may_stand_in_the_list(
    plan: Plan, project: Project, catalog: Catalog, tmp_path: Path
) -> None:
    core = plan.core
    assert core is not None
    rows = [row for row in rows_of(plan) if not row.startswith(("module,", "shipping,"))]
    rows = [rows[0] + ",bay", *(row + "," for row in rows[1:])]
    module = next(line for line in plan.lines if line.family == "module")
    rows += [
        f"module,{core.module},{use.modules},{module.supplier},{use.bay}" for use in plan.placement
    ]
    typed = read_typed_list(write_csv(tmp_path / "list.csv", rows), catalog)
    found = audit_parts_list(project, catalog, typed, PackSaid(parallel=core.parallel))
    assert found.plan is not None
    assert found.plan.placement == plan.placement


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (lambda rows: [row.replace("fuse,", "fuze,", 1) for row in rows], "list.family"),
        (lambda rows: [row.replace("throttle-", "throtle-") for row in rows], "list.part"),
        (lambda rows: [*rows, "gauge,,1,"], "list.part"),
        (lambda rows: ["family,part,supplier", *rows[1:]], "list.missing-column"),
        (lambda rows: ["family,port,quantity,supplier", *rows[1:]], "list.missing-column"),
        (lambda rows: [row.replace(",1,", ",1.5,") for row in rows], "list.quantity"),
        (lambda rows: [row.replace(",1,", ",-1,") for row in rows], "list.quantity"),
        (lambda rows: [row.replace(",1,", ",nan,") for row in rows], "list.quantity"),
        (lambda rows: [rows[0], *(f"{row}x" for row in rows[1:2])], "list.supplier"),
        (lambda rows: rows[:1], "list.empty"),
    ],
)  # fmt: skip
def test_slips_are_told(
    plan: Plan, catalog: Catalog, tmp_path: Path, spoil: object, code: str
) -> None:
    assert callable(spoil)
    file = write_csv(tmp_path / "list.csv", spoil(rows_of(plan)))
    with pytest.raises(InputError) as caught:
        read_typed_list(file, catalog)
    assert {fault.code for fault in caught.value.faults} == {code}
    assert all(fault.file == "list.csv" for fault in caught.value.faults)


def test_all_slips_at_once(plan: Plan, catalog: Catalog, tmp_path: Path) -> None:
    rows = rows_of(plan)
    place = next(i for i, row in enumerate(rows) if ",1," in row)
    rows[place] = rows[place].replace(",1,", ",none,")
    rows[place + 1] = "x" + rows[place + 1]
    rows.append("gauge,no-such,2,")
    with pytest.raises(InputError) as caught:
        read_typed_list(write_csv(tmp_path / "list.csv", rows), catalog)
    assert len(caught.value.faults) == 3


@pytest.mark.parametrize(
    ("family", "beside", "code"),
    [
        ("motor", PackSaid({"bed": 4}), "list.no-core"),
        (None, PackSaid({"attic": 4}), "list.bay"),
        (None, PackSaid({"bed": 5}), "list.pack"),
        (None, PackSaid({"bed": 4}, parallel=2), "list.pack"),
        (None, None, "list.pack"),
        (None, PackSaid({"bed": 4}, final_ratio=9.9), "list.ratio"),
    ],
)
def test_what_is_no_conversion_is_refused(
    project: Project,
    catalog: Catalog,
    typed: dict[str, TypedPart],
    family: str | None,
    beside: PackSaid | None,
    code: str,
) -> None:
    typed["module"].quantity = 12
    if family:
        del typed[family]
    with pytest.raises(InputError) as caught:
        audit_parts_list(project, catalog, typed, beside)
    assert {fault.code for fault in caught.value.faults} == {code}


def test_a_second_part_of_a_family_is_refused(plan: Plan, catalog: Catalog, tmp_path: Path) -> None:
    other = catalog.model_copy(
        update={
            "families": {
                **catalog.families,
                "gauge": {
                    **catalog.family("gauge"),
                    "gauge-2": next(iter(catalog.family("gauge").values())).model_copy(
                        update={"id": "gauge-2"}
                    ),
                },
            }
        }
    )
    rows = [*rows_of(plan), "gauge,gauge-2,1,"]
    with pytest.raises(InputError) as caught:
        read_typed_list(write_csv(tmp_path / "list.csv", rows), other)
    assert [fault.code for fault in caught.value.faults] == ["list.two-of-family"]


def test_no_planner_has_a_part_in_it() -> None:
    code = (
        "import sys\n"
        "import bomplan.audit.parts_list, bomplan.audit.typed_list\n"
        "print([m for m in sys.modules if m.startswith(('bomplan.planner', 'ortools'))])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"


def test_the_result_knows_its_checks(
    plan: Plan, project: Project, catalog: Catalog, typed: dict[str, TypedPart]
) -> None:
    found = audit_parts_list(project, catalog, typed, said(plan))
    assert isinstance(found, ListAudit)
    assert found.plan is not None
    assert found.plan.checks == found.checks
    assert found.plan.status == "feasible"
    assert found.plan.objective.bound is None
