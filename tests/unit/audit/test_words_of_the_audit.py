"""The audit's own checks as a builder reads them, on a plan that fails each of them."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest
from todays_plan import RELEASED, todays_plan

from bomplan.audit import audit_plan
from bomplan.audit.check_plan import LATER
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.studs import DRILLED
from bomplan.design.line_records import Slack, Standing
from bomplan.design.planfile import read_plan
from bomplan.design.records import Check, Plan
from bomplan.errors import Fault, InputError

LINES = "counted again from the plan's own lines"
SUPPLY = "figures of the 12 V side that differ by more than 1 % from those of lines and project"


def changed(change: Callable[[dict[str, Any]], None]) -> Plan:
    data = copy.deepcopy(todays_plan().model_dump(mode="json"))
    change(data)
    return Plan.model_validate(data)


def line(data: dict[str, Any], family: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in data["lines"] if one["family"] == family)
    return found


def own(plan: Plan, *heads: str) -> list[Check]:
    """The audit's own checks, in their order."""
    return [one for one in audit_plan(plan) if one.id.startswith(heads or ("audit.",))]


def yes_or_no(name: str, words: str, passed: bool, source: str = LINES) -> Check:
    return Check(
        id=name,
        words=words,
        value=float(passed),
        limit=1,
        unit="yes/no",
        sense="at least",
        passed=passed,
        source=source,
        source_kind="computed",
    )


def none_of(name: str, words: str, value: float, unit: str, source: str = LINES) -> Check:
    return Check(
        id=name,
        words=words,
        value=value,
        limit=0,
        unit=unit,
        sense="at most",
        passed=value <= 0,
        source=source,
        source_kind="given" if source == "project" else "computed",
    )


def test_a_sound_plan_in_full() -> None:
    price = todays_plan().objective.value
    geometry = "geometry of the recorded stands"
    found = own(todays_plan())
    gap = next(one for one in found if one.id == "audit.axles")
    assert 0 < gap.value < 0.001
    assert found == [
        none_of("audit.lines", "lines whose quantity, price or mass differs", 0, "lines"),
        yes_or_no(
            "audit.price", f"the plan's price {price} is what its lines come to ({price})", True
        ),
        yes_or_no(
            "audit.proof",
            "what a plan that is called the best comes to is the best that is proven possible",
            True,
        ),
        yes_or_no(
            "audit.invoices", "every supplier's invoice and the spares are those of the lines", True
        ),
        yes_or_no(
            "audit.mass", "the plan's kerb mass is that of its lines on the stripped donor", True
        ),
        Check(
            id="audit.axles",
            words="greatest difference between a stated axle load and the one counted from every"
            " stand",
            value=gap.value,
            limit=0.001,
            unit="kg",
            sense="at most",
            passed=True,
            source=LINES,
            source_kind="computed",
        ),
        none_of("audit.stands.bonnet", "faults of the layout in bay bonnet", 0, "faults", geometry),
        none_of("audit.stands.bed", "faults of the layout in bay bed", 0, "faults", geometry),
        *(one for one in found if one.id.startswith(("audit.series.", "audit.sections."))),
        next(one for one in found if one.id == "audit.links"),
        yes_or_no(
            "audit.hold-down",
            "the hold-down is counted for 155 kg of modules, 155 kg stand in the bays",
            True,
            "modules of the placement and mass of one of them",
        ),
        *(one for one in found if one.id.startswith("audit.links.")),
        Check(
            id="audit.lugs",
            words="lugs in the bill, against both ends of every traction cable of the circuit",
            value=20,
            limit=20,
            unit="lugs",
            sense="at least",
            passed=True,
            source="ends of the traction cables in the plan's circuit",
            source_kind="computed",
            caution="a cable without its lug is clamped by a screw, works loose and burns",
        ),
        none_of(
            "audit.lug-holes",
            "ends of traction cable on a stud for which the plan knows no lug of its section,"
            " or too few of them",
            0,
            "ends",
            "ends of the traction cables in the plan's circuit",
        ).model_copy(update={"caution": DRILLED}),
        yes_or_no(
            "audit.mass-record",
            "base, added and laden masses, axle loads and limits are those of the lines",
            True,
        ),
        yes_or_no(
            "audit.couplers",
            "mass, resistance and 12 V load that the simulation reads are those of the lines",
            True,
        ),
        none_of("audit.supply-12v", SUPPLY, 0, "figures"),
        yes_or_no("audit.currency", "the plan counts in EUR, its project in EUR", True),
        none_of(
            "audit.performance",
            "driving figures that differ by more than 1 %",
            0,
            "figures",
            "simulated again",
        ),
        none_of(
            "audit.driving",
            "answers of the driving record that differ by more than 1 %",
            0,
            "figures",
            "simulated again",
        ),
        none_of(
            "audit.choices",
            "choices of the builder that the plan does not keep to",
            0,
            "choices",
            "project",
        ),
        *(one for one in found if one.id in ("audit.whole-sum", "audit.buying-order")),
    ]
    # What is not the audit's own is every requirement, as the plan states it.
    assert [one for one in audit_plan(todays_plan()) if not one.id.startswith("audit.")] == [
        one for one in todays_plan().checks if not one.id.startswith("list.")
    ]


def test_the_same_plan_wrong_in_everything_it_says() -> None:
    def spoil(data: dict[str, Any]) -> None:
        for family in ("shunt", "gauge"):
            line(data, family)["unit_price"] += 1
        data["objective"]["value"] += 7
        data["invoices"][0]["total"] += 1
        data["mass"]["kerb_kg"] += 1
        data["mass"]["axles"][0]["load_kg"] += 1
        data["placement"][0]["modules"] += 2
        data["couplers"]["added_g"] += 1
        data["currency"] = "USD"
        for figure in ("rain_w", "winter_w"):
            data["supply_12v"][figure] += 90
        data["performance"]["range_km"] += 9
        data["performance"]["charge_v"] += 9
        for index in range(2):
            data["driving"]["speeds"][index]["speed_kmh"] += 9
        data["project_used"]["choices"]["bays_max"] = 1
        data["project_used"]["choices"]["excluded"] = ["shunt-500a"]

    price = todays_plan().objective.value
    assert price is not None
    found = {one.id: one for one in own(changed(spoil))}
    axles = found["audit.axles"]
    assert axles.value == pytest.approx(1, abs=0.001)
    assert not axles.passed
    for check in (
        none_of(
            "audit.lines", "lines whose quantity, price or mass differs: gauge, shunt", 2, "lines"
        ),
        yes_or_no(
            "audit.price",
            f"the plan's price {price + 7} is what its lines come to ({price})",
            False,
        ),
        yes_or_no(
            "audit.invoices",
            "every supplier's invoice and the spares are those of the lines",
            False,
        ),
        yes_or_no(
            "audit.mass", "the plan's kerb mass is that of its lines on the stripped donor", False
        ),
        none_of(
            "audit.stands.bonnet",
            "faults of the layout in bay bonnet",
            4,
            "faults",
            "geometry of the recorded stands",
        ),
        yes_or_no(
            "audit.mass-record",
            "base, added and laden masses, axle loads and limits are those of the lines",
            False,
        ),
        yes_or_no(
            "audit.couplers",
            "mass, resistance and 12 V load that the simulation reads are those of the lines",
            False,
        ),
        none_of("audit.supply-12v", f"{SUPPLY}: rain_w, winter_w", 2, "figures"),
        yes_or_no("audit.currency", "the plan counts in USD, its project in EUR", False),
        none_of(
            "audit.performance",
            "driving figures that differ by more than 1 %: range_km, charge_v",
            2,
            "figures",
            "simulated again",
        ),
        none_of(
            "audit.driving",
            "answers of the driving record that differ by more than 1 %:"
            " speeds[0].speed_kmh, speeds[1].speed_kmh",
            2,
            "figures",
            "simulated again",
        ),
        none_of(
            "audit.choices",
            "choices of the builder that the plan does not keep to: at most 1 bays,"
            " without shunt-500a",
            2,
            "choices",
            "project",
        ),
    ):
        assert found[check.id] == check


def test_of_many_slips_of_the_record_six_are_named() -> None:
    def spoil(data: dict[str, Any]) -> None:
        for one in data["driving"]["steady"][:7]:
            one["gear"] += 1

    check = next(one for one in own(changed(spoil)) if one.id == "audit.driving")
    assert check.value == 7
    assert check.words.count("gear") == 6
    assert "steady[0].gear, steady[1].gear" in check.words


# -- pieces that guard something ---------------------------------------------------------------


@pytest.mark.parametrize("family", ["fuse", "contactor", "branch_fuse"])
def test_fewer_pieces_than_the_circuit_needs(family: str) -> None:
    assert RULE_OF[family].too_few

    def fewer(step: int) -> list[Check]:
        def change(data: dict[str, Any]) -> None:
            line(data, family)["quantity"] += step

        return own(changed(change), "audit.quantity.")

    counted = next(one for one in todays_plan().lines if one.family == family)
    assert fewer(0) == []
    assert fewer(1) == []
    assert fewer(-1) == [
        Check(
            id=f"audit.quantity.{family}",
            words=f"pieces of {counted.part} in the plan against what its circuit needs",
            value=counted.quantity - 1,
            limit=counted.quantity,
            unit="pieces",
            sense="at least",
            passed=False,
            source=LINES,
            source_kind="computed",
            caution=RULE_OF[family].too_few,
        )
    ]


def test_every_short_family_is_told() -> None:
    def change(data: dict[str, Any]) -> None:
        for family in ("fuse", "contactor"):
            line(data, family)["quantity"] -= 1
        # A family whose number guards nothing is told with the lines alone.
        line(data, "labels")["quantity"] -= 1

    found = changed(change)
    assert [one.id for one in own(found, "audit.quantity.")] == [
        f"audit.quantity.{one.family}"
        for one in todays_plan().lines
        if one.family in ("fuse", "contactor")
    ]


# -- what an older plan does not hold ------------------------------------------------------------


def test_families_that_came_after_the_plan() -> None:
    old = read_plan(RELEASED)
    held = {one.family for one in old.lines}
    found = own(old, "audit.older.")
    later = LATER
    assert not held & set(later)
    assert found == [
        Check(
            id=f"audit.older.{family}",
            words=f"the plan, made before it was counted, holds the family {family}: plan again",
            value=0,
            limit=1,
            unit="yes/no",
            sense="at least",
            passed=False,
            source=LINES,
            source_kind="computed",
            caution=RULE_OF[family].too_few,
        )
        for family in later
    ]
    assert own(todays_plan(), "audit.older.") == []


@pytest.mark.parametrize("family", LATER)
def test_a_plan_that_knows_a_family_and_lacks_its_line_is_refused(family: str) -> None:
    """It is no older plan then: the row is embedded, or the line is there without its row."""

    def without_line(data: dict[str, Any]) -> None:
        data["lines"].remove(line(data, family))

    def without_row(data: dict[str, Any]) -> None:
        parts = data["parts_used"]["parts"]
        parts[:] = [part for part in parts if part["family"] != family]

    assert [one.code for one in refused(without_line)] == ["audit.line-missing"]
    assert [one.code for one in refused(without_row)] == ["audit.part-missing"]


# -- what cannot be checked ----------------------------------------------------------------------


def refused(change: Callable[[dict[str, Any]], None]) -> list[Fault]:
    with pytest.raises(InputError) as caught:
        audit_plan(changed(change))
    return list(caught.value.faults)


def test_a_plan_that_lacks_what_it_needs_in_full_words() -> None:
    def motor(data: dict[str, Any]) -> None:
        data["parts_used"]["parts"] = [
            part for part in data["parts_used"]["parts"] if part["family"] != "motor"
        ]

    assert refused(motor) == [
        Fault(
            "audit.part-missing",
            "the plan does not embed a part of its core",
            where="parts_used",
            value="motor-series-232mm-used",
        )
    ]

    def roof(data: dict[str, Any]) -> None:
        data["placement"][1]["bay"] = "roof"

    assert refused(roof) == [
        Fault(
            "audit.bay-unknown",
            "the plan puts modules into a bay that its project does not have",
            where="placement",
            value="roof",
            allowed="bonnet, bed",
        )
    ]

    def narrow(data: dict[str, Any]) -> None:
        for bay in data["project_used"]["bays"]:
            bay["length_mm"] = 20

    assert refused(narrow) == [
        Fault(
            "audit.bay-too-small",
            "the plan puts more modules into a bay than find room there",
            where=f"placement, {bay}",
            value=f"{modules} modules",
            allowed="0 at most",
            hint="measure the bay again, or plan anew",
        )
        for bay, modules in (("bonnet", 3), ("bed", 9))
    ]


def test_lines_twice_missing_or_without_their_parts_in_full_words() -> None:
    def change(data: dict[str, Any]) -> None:
        data["lines"].append(line(data, "fuse"))
        data["lines"].remove(line(data, "gauge"))
        line(data, "labels")["part"] = "labels-unknown"
        line(data, "shunt")["supplier"] = "nobody"

    order = [one.family for one in todays_plan().lines]
    missing = {
        "gauge": Fault(
            "audit.line-missing",
            "the plan has no line of family gauge",
            where="lines",
            hint="without it the conversion is not whole",
        ),
        "labels": Fault(
            "audit.part-missing",
            "the plan does not embed this part or its offer",
            where="parts_used",
            value="labels-unknown from list",
        ),
        "shunt": Fault(
            "audit.part-missing",
            "the plan does not embed this part or its offer",
            where="parts_used",
            value="shunt-500a from nobody",
        ),
    }
    assert refused(change) == [
        Fault("audit.line-twice", "two lines of family fuse"),
        *(missing[family] for family in sorted(missing, key=order.index)),
    ]


def test_charges_may_stand_twice() -> None:
    shipping = [one for one in todays_plan().lines if one.family == "shipping"]
    assert len(shipping) > 1
    # And lines behind a charge are read: the order of the lines does not matter.
    turned = todays_plan().model_copy(update={"lines": todays_plan().lines[::-1]})
    assert [
        one.id for one in audit_plan(turned) if one.id == "audit.lines" and not one.passed
    ] == []


def test_slack_is_checked_where_it_is_stated() -> None:
    """Of two lines that state one, the one that is wrong is named; who states none is not asked."""
    assert own(todays_plan(), "audit.slack") == []
    ratio = Slack(
        check="shunt.rating", words="", value=1, limit=1, unit="A", sense="at most", share=0.5
    )

    def with_slack(**told: Slack | None) -> list[Check]:
        lines = tuple(
            one.model_copy(update={"standing": Standing(slack=told[one.family])})
            if one.family in told
            else one
            for one in todays_plan().lines
        )
        return own(todays_plan().model_copy(update={"lines": lines}), "audit.slack")

    words = "lines whose stated slack differs"
    source = "counted again from the plan's own parts"
    # No figure limits a gauge, so no slack is right for it.
    assert with_slack(gauge=None) == [none_of("audit.slack", words, 0, "lines", source)]
    assert with_slack(gauge=None, shunt=ratio, heater=ratio) == [
        none_of("audit.slack", f"{words}: shunt, heater", 2, "lines", source)
    ]
    # A charge has no limit, and is no part of what is looked at.
    assert with_slack(shipping=ratio) == [none_of("audit.slack", words, 0, "lines", source)]
