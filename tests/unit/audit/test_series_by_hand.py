"""A box of three modules laid out by hand: what its audit says of each slip, word by word."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bomplan.audit.series import _node_faults, _section_faults, series_checks
from bomplan.design.records import BayUse, Check, Stand
from bomplan.design.series_records import ModuleLink, Section

SECTIONS_OF_BOX = "faults of the sections that are joined before the last links in bay boot"
ORDER_OF_BOX = "faults of the series order in bay boot"


def drive(
    parallel: int = 1, topology: str = "groups", cell_v: float = 3.65, spacing_mm: float = 120
) -> Any:
    """Modules of eight cells, 100 x 200 mm and 150 mm high."""
    figures = {"cells_series": 8, "cell_v_charge": cell_v}
    module = SimpleNamespace(
        number=figures.__getitem__,
        number_or=lambda name, other: {"terminal_spacing_mm": spacing_mm}.get(name, other),
    )
    return SimpleNamespace(
        core=SimpleNamespace(parallel=parallel, topology=topology), module=module
    )


def stand(place: int, x_mm: int, plus: str, **more: Any) -> Stand:
    told = {"y_mm": 0, "z_mm": 0, "length_mm": 100, "width_mm": 200, "height_mm": 150, "layer": 0}
    return Stand(**(told | {"x_mm": x_mm, "place": place, "beside": 1, "plus": plus} | more))


def link(first: str, second: str, length_mm: int, **more: Any) -> ModuleLink:
    first_label, first_pole = first[:-1], first[-1]
    told: dict[str, Any] = {"way": "series", "joins": "neighbours"}
    return ModuleLink(
        first=first_label, first_pole=first_pole, second=second[:-1], second_pole=second[-1],
        length_mm=length_mm, **(told | more),
    )  # fmt: skip


def box(**more: Any) -> BayUse:
    """Three modules side by side, poles 120 mm apart and turned in turn: bars of 100 mm."""
    told: dict[str, Any] = {
        "bay": "boot",
        "modules": 3,
        "series": 3,
        "stands": (stand(1, 0, "y-"), stand(2, 100, "y+"), stand(3, 200, "y-")),
        "links": (link("1-", "2+", 100), link("2-", "3+", 100, last=True)),
        "sections": (
            Section(first=1, last=2, full_v=58.4),
            Section(first=3, last=3, full_v=29.2),
        ),
    }
    return BayUse(**(told | more))


def checks(*uses: BayUse, links: int = 2, of: Any = None) -> list[Check]:
    lines = (
        SimpleNamespace(family="link", quantity=links),
        SimpleNamespace(family="module", quantity=1000),
    )
    plan: Any = SimpleNamespace(placement=uses, lines=lines)
    return list(series_checks(of or drive(), plan))


def test_the_box_as_it_should_be() -> None:
    assert [
        (one.id, one.words, one.value, one.limit, one.unit, one.sense, one.source, one.caution)
        for one in checks(box())
    ] == [
        (
            "audit.series.boot", ORDER_OF_BOX, 0, 0, "faults", "at most",
            "geometry and numbers of the recorded stands and links", "",
        ),
        (
            "audit.sections.boot", SECTIONS_OF_BOX, 0, 0, "faults", "at most",
            "at most 60 V before the last link is fitted: common practice, ISO 6469-3 class B",
            "above 60 V direct voltage a touch can kill",
        ),
        (
            "audit.links",
            "links between modules, against bars and cables with two lugs of the bill",
            2, 2, "links", "at most", "geometry and numbers of the recorded stands and links", "",
        ),
    ]  # fmt: skip


def told(*uses: BayUse, of: Any = None) -> list[tuple[str, str, float]]:
    """Id, words and number of every failed check."""
    return [
        (one.id, one.words, one.value) for one in checks(*uses, of=of, links=99) if not one.passed
    ]


def in_order(words: str, number: int = 1) -> list[tuple[str, str, float]]:
    return [("audit.series.boot", f"{ORDER_OF_BOX} ({words})", number)]


def in_sections(words: str, number: int = 1) -> list[tuple[str, str, float]]:
    return [("audit.sections.boot", f"{SECTIONS_OF_BOX} ({words})", number)]


def test_one_link_less_in_the_bill() -> None:
    assert [one.id for one in checks(box(), links=1) if not one.passed] == ["audit.links"]
    assert [one.id for one in checks(box(), links=3) if not one.passed] == []


# -- numbers ---------------------------------------------------------------------------------

NUMBERS = "its modules are not numbered once each, in one run without a gap"


def with_stand(index: int, **more: Any) -> BayUse:
    stands = list(box().stands)
    stands[index] = stands[index].model_copy(update=more)
    return box(stands=tuple(stands))


@pytest.mark.parametrize("place", [1, 2, 4])
def test_a_number_that_is_not_the_next(place: int) -> None:
    assert told(with_stand(2, place=place))[0][1].startswith(f"{ORDER_OF_BOX} ({NUMBERS})")


def test_places_beside_are_numbered_from_one() -> None:
    assert told(with_stand(1, beside=2)) == in_order(NUMBERS)
    assert told(with_stand(1, beside=0)) == in_order(NUMBERS)


def test_a_second_box_goes_on_counting() -> None:
    first = box(
        modules=2, series=2, stands=box().stands[:2], links=box().links[:1],
        sections=box().sections[:1],
    )  # fmt: skip
    second = box(
        bay="tray", modules=1, series=1, stands=box().stands[2:], links=(),
        sections=box().sections[1:],
    )  # fmt: skip
    assert told(first, second) == []
    assert [one.id for one in checks(first, second, links=1)] == [
        "audit.series.boot", "audit.sections.boot", "audit.series.tray", "audit.sections.tray",
        "audit.links",
    ]  # fmt: skip
    assert [one[0] for one in told(second, first)] == [
        "audit.series.tray", "audit.sections.tray", "audit.series.boot", "audit.sections.boot",
    ]  # fmt: skip
    # A bay that nothing stands in counts nothing.
    assert told(first, second.model_copy(update={"stands": ()})) == []


def test_a_plan_from_before_there_was_an_order_has_nothing_to_check() -> None:
    none = tuple(one.model_copy(update={"place": 0}) for one in box().stands)
    assert checks(box(stands=none)) == []
    assert checks(box(stands=(*none[:2], box().stands[2]))) != []
    assert checks() == []


# -- poles -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stood", "fine", "wrong"),
    [
        ({"terminals": "up"}, ("y-", "y+"), ("x-", "x+", "z-", "z+", "")),
        ({"terminals": "x"}, ("y-", "y+"), ("x-", "x+", "z-", "z+", "")),
        ({"terminals": "y"}, ("z-", "z+"), ("x-", "x+", "y-", "y+", "")),
        ({"terminals": "up", "width_mm": 100}, ("x-", "x+", "y-", "y+"), ("z-", "z+", "")),
        ({"terminals": "x", "width_mm": 150}, ("y-", "y+", "z-", "z+"), ("x-", "x+", "")),
        ({"terminals": "up", "width_mm": 99}, ("x-", "x+"), ("y-", "y+", "z-", "z+", "")),
    ],
)
def test_poles_stand_along_a_longer_side_of_their_face(
    stood: dict[str, Any], fine: tuple[str, ...], wrong: tuple[str, ...]
) -> None:
    def alone(plus: str) -> BayUse:
        return box(
            modules=1, series=1, stands=(stand(1, 0, plus, **stood),), links=(),
            sections=(Section(first=1, last=1, full_v=29.2),),
        )  # fmt: skip

    for plus in fine:
        assert told(alone(plus)) == []
    for plus in wrong:
        assert told(alone(plus)) == in_order("module 1 has its poles on no longer side of its face")


# -- links -----------------------------------------------------------------------------------


def pair(other: Stand, joined: ModuleLink, first: Stand | None = None) -> BayUse:
    """Two modules with one link between them."""
    return box(
        modules=2, series=2, stands=(first or stand(1, 0, "y-"), other), links=(joined,),
        sections=(Section(first=1, last=2, full_v=58.4),),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("length_mm", "fine"), [(98, False), (99, False), (100, True), (101, False), (102, False)]
)
def test_a_bar_as_long_as_its_terminals_are_apart(length_mm: int, fine: bool) -> None:
    joined = pair(stand(2, 100, "y+"), link("1-", "2+", length_mm))
    words = "link 1- to 2+ is not as long as its terminals are apart (100 mm)"
    assert told(joined) == ([] if fine else in_order(words))


@pytest.mark.parametrize(("length_mm", "fine"), [(100, False), (101, True), (102, False)])
def test_a_length_is_rounded_up_to_the_millimetre(length_mm: int, fine: bool) -> None:
    # 20 mm aside: sqrt(100^2 + 10^2) = 100.499 mm
    joined = pair(stand(2, 100, "y+", y_mm=10), link("1-", "2+", length_mm))
    words = "link 1- to 2+ is not as long as its terminals are apart (100 mm)"
    assert told(joined) == ([] if fine else in_order(words))


def test_terminals_stand_where_spacing_and_turn_put_them() -> None:
    # Both turned the same way: 100 mm along, and 120 mm from pole to pole.
    assert told(pair(stand(2, 100, "y-"), link("1-", "2+", 157))) == []
    # From plus to plus of two that are turned against each other: the same way across.
    crossed = told(pair(stand(2, 100, "y+"), link("1+", "2+", 157)))
    assert "as long as" not in crossed[0][1]
    # Unknown spacing: seven tenths of the side, 140 mm.
    unknown = drive(spacing_mm=0)
    assert told(pair(stand(2, 100, "y-"), link("1-", "2+", 173)), of=unknown) == []
    # A spacing wider than the side ends with it: 200 mm.
    wide = drive(spacing_mm=500)
    assert told(pair(stand(2, 100, "y-"), link("1-", "2+", 224)), of=wide) == []


def test_terminals_on_a_side_are_at_that_side() -> None:
    # Terminals to the front of one and on top of the other: 50 mm along, 75 mm up, poles level.
    first = stand(1, 0, "y-", terminals="x")
    joined = pair(stand(2, 100, "y+"), link("1-", "2+", 91), first)
    assert told(joined) == []
    first = stand(1, 0, "z-", terminals="y", width_mm=100)
    # (50, 100, 75 + 60) to (150, 160, 150)
    assert told(pair(stand(2, 100, "y+"), link("1-", "2+", 118), first)) == []


@pytest.mark.parametrize(
    ("gap_mm", "joins", "length_mm"),
    [(0, "neighbours", 100), (99, "neighbours", 199), (100, "apart", 200), (-1, "apart", 99)],
)
def test_what_a_link_joins_along(gap_mm: int, joins: str, length_mm: int) -> None:
    other = stand(2, 100 + gap_mm, "y+")
    assert told(pair(other, link("1-", "2+", length_mm, joins=joins))) == []
    said = "apart" if joins == "neighbours" else "neighbours"
    wrong = told(pair(other, link("1-", "2+", length_mm, joins=said)))
    assert wrong == in_order(f"link 1- to 2+ does not join {said}")


@pytest.mark.parametrize(
    ("aside_mm", "joins", "length_mm"),
    [(199, "neighbours", 223), (200, "apart", 300), (-199, "neighbours", 223)],
)
def test_what_a_link_joins_across(aside_mm: int, joins: str, length_mm: int) -> None:
    """Face to face is more than an edge that touches."""
    other = stand(2, 100, "y+", y_mm=aside_mm)
    first = stand(1, 0, "y-")
    assert told(pair(other, link("1-", "2+", length_mm, joins=joins), first)) == []


def test_the_narrowest_side_is_how_far_apart_neighbours_may_be() -> None:
    for narrow in ({"length_mm": 60}, {"height_mm": 60}):
        first = stand(1, 0, "y-", **narrow)
        edge = first.length_mm
        rise = abs(150 - first.height_mm)
        near = stand(2, edge + 59, "y+")
        along = near.x_mm + 50 - edge / 2
        length = -int(-((along**2 + rise**2) ** 0.5) // 1)
        assert told(pair(near, link("1-", "2+", length), first)) == []
        far = stand(2, edge + 60, "y+")
        length = int(far.x_mm + 50 - edge / 2 + rise)
        assert told(pair(far, link("1-", "2+", length, joins="apart"), first)) == []


def test_a_cable_to_another_layer_follows_the_walls() -> None:
    other = stand(2, 100, "y-", z_mm=150, layer=1)
    # 100 along, 120 across, 150 up
    assert told(pair(other, link("1-", "2+", 370, joins="layers"))) == []
    assert told(pair(other, link("1-", "2+", 369, joins="layers"))) == in_order(
        "link 1- to 2+ is not as long as its terminals are apart (370 mm)"
    )


def test_a_link_to_a_module_that_is_not_there() -> None:
    use = pair(stand(2, 100, "y+"), link("1-", "7+", 100))
    assert told(use) == in_order("link 1- to 7+ joins a module that does not stand here", 2)
    use = pair(stand(2, 100, "y+"), link("7-", "2+", 100))
    assert told(use) == in_order("link 7- to 2+ joins a module that does not stand here", 2)
    # What follows is looked at all the same.
    use = box(links=(link("7-", "2+", 100), link("2-", "3+", 99, last=True)))
    assert told(use) == in_order("link 7- to 2+ joins a module that does not stand here", 3)


# -- the circuit -----------------------------------------------------------------------------


def test_a_link_left_out_twice_or_on_the_wrong_pole() -> None:
    first, second = box().links
    assert told(box(links=(second,))) == in_order("the poles at series place 1 are not joined")
    assert told(box(links=(first,))) == in_order("the poles at series place 2 are not joined")
    assert told(box(links=(first, first, second))) == in_order("link 1- to 2+ is idle")
    shorted = box(links=(first, second, link("1+", "2+", 100, way="across", joins="neighbours")))
    assert "joined to others: a short circuit" in _circuit(shorted)[0]


def _circuit(use: BayUse, of: Any = None) -> list[str]:
    return list(_node_faults(of or drive(), use, 0))


def test_a_short_circuit_names_the_place() -> None:
    first, second = box().links
    shorted = box(links=(first, second, link("1+", "1-", 100)))
    assert _circuit(shorted) == [
        "the poles at series place 1 are joined to others: a short circuit"
    ]
    end = box(links=(first, second, link("2+", "3-", 100)))
    assert _circuit(end) == ["the poles at series place 3 are joined to others: a short circuit"]


def side_by_side(*links: ModuleLink, **more: Any) -> BayUse:
    """Two series places of two modules each; b stands behind a."""
    stands = tuple(
        stand(place, 100 * (place - 1), "y-" if place == 1 else "y+", beside=beside,
              y_mm=200 * (beside - 1))
        for place in (1, 2)
        for beside in (1, 2)
    )  # fmt: skip
    told = {"modules": 4, "series": 2, "stands": stands, "links": links}
    return box(**(told | {"sections": (Section(first=1, last=2, full_v=58.4),)} | more))


def joined(first: str, second: str) -> ModuleLink:
    way = "series" if first[0] != second[0] else "across"
    return link(first, second, 0, way=way)


def test_groups_join_every_pole_of_a_place() -> None:
    groups = drive(parallel=2)
    whole = [
        joined("1a+", "1b+"), joined("1a-", "2a+"), joined("1b-", "2b+"), joined("2a+", "2b+"),
        joined("2a-", "2b-"),
    ]  # fmt: skip
    assert _circuit(side_by_side(*whole), groups) == []
    for left_out, place in ((0, 0), (1, 1), (2, 1), (3, 1), (4, 2)):
        some = [one for index, one in enumerate(whole) if index != left_out]
        assert _circuit(side_by_side(*some), groups) == [
            f"the poles at series place {place} are not joined"
        ]
    assert _circuit(side_by_side(*whole, joined("1a-", "1b-")), groups) == [
        "link 1a- to 1b- is idle"
    ]


def test_strings_join_no_pole_across() -> None:
    strings = drive(parallel=2, topology="strings")
    whole = [joined("1a-", "2a+"), joined("1b-", "2b+")]
    assert _circuit(side_by_side(*whole), strings) == []
    assert _circuit(side_by_side(*whole, joined("2a+", "2b+")), strings) == [
        "the poles at series place 1 are joined to others: a short circuit"
    ]
    assert _circuit(side_by_side(joined("1a-", "2b+"), joined("1b-", "2a+")), strings) != []


def test_a_disconnect_keeps_two_nodes_apart() -> None:
    first, second = box().links
    apart = box(links=(first,), disconnects=(2,))
    assert _circuit(apart) == []
    assert _circuit(box(links=(first, second), disconnects=(2,))) == [
        "the poles at series place 3 are joined to others: a short circuit"
    ]
    # At a disconnect the poles of each side are joined among themselves.
    groups = drive(parallel=2)
    whole = [
        joined(a, b) for a, b in (("1a+", "1b+"), ("1a-", "1b-"), ("2a+", "2b+"), ("2a-", "2b-"))
    ]
    assert _circuit(side_by_side(*whole, disconnects=(1,)), groups) == []
    assert _circuit(side_by_side(*whole[:2], *whole[3:], disconnects=(1,)), groups) == [
        "the poles at series place 2 are not joined"
    ]


# -- sections --------------------------------------------------------------------------------


def test_sections_hold_every_place_once() -> None:
    words = "the sections do not hold every series place once"
    for sections in (
        box().sections[:1],
        (Section(first=1, last=2, full_v=58.4), Section(first=2, last=3, full_v=58.4)),
        (Section(first=0, last=1, full_v=58.4), Section(first=2, last=3, full_v=58.4)),
    ):
        assert told(box(sections=sections))[0][1].startswith(f"{SECTIONS_OF_BOX} ({words})")


@pytest.mark.parametrize(
    ("full_v", "fine"), [(58.409, True), (58.391, True), (58.411, False), (58.389, False)]
)
def test_the_voltage_of_a_section_is_that_of_its_modules(full_v: float, fine: bool) -> None:
    sections = (box().sections[0].model_copy(update={"full_v": full_v}), box().sections[1])
    wrong = in_sections("section 1 to 2 comes to 58.40 V")
    assert told(box(sections=sections)) == ([] if fine else wrong)


def two_in_one_section(cell_v: float) -> list[tuple[str, str, float]]:
    use = pair(stand(2, 100, "y+"), link("1-", "2+", 100))
    use = use.model_copy(update={"sections": (Section(first=1, last=2, full_v=16 * cell_v),)})
    return told(use, of=drive(cell_v=cell_v))


def test_sixty_volts_before_the_last_link_and_no_more() -> None:
    assert two_in_one_section(3.75) == []
    assert two_in_one_section(3.751) == in_sections("section 1 to 2 comes to 60.0 V, above 60 V")


def test_one_module_of_more_than_sixty_volts_cannot_be_parted() -> None:
    use = box(
        modules=1, series=1, stands=(stand(1, 0, "y-"),), links=(),
        sections=(Section(first=1, last=1, full_v=72.0),),
    )  # fmt: skip
    assert told(use, of=drive(cell_v=9.0)) == []


def test_a_disconnect_stands_between_sections() -> None:
    first, second = box().links
    assert told(box(links=(first,), disconnects=(2,))) == []
    words = "a disconnect stands inside a section"
    between = box(links=(second,), disconnects=(1,))
    assert told(between) == in_sections(words)
    # After the last section there is no further one.
    assert ("audit.sections.boot", f"{SECTIONS_OF_BOX} ({words})", 1) in told(box(disconnects=(3,)))


@pytest.mark.parametrize("place", [0, 1])
def test_which_link_is_fitted_last_is_told(place: int) -> None:
    links = [one.model_copy(update={"last": not one.last}) if index == place else one
             for index, one in enumerate(box().links)]  # fmt: skip
    name = ("1 to 2", "2 to 3")[place]
    assert told(box(links=tuple(links))) == in_sections(
        f"link {name}: whether it is fitted last is told wrongly"
    )


def test_links_across_are_never_last() -> None:
    groups = drive(parallel=2)
    sections = (Section(first=1, last=1, full_v=29.2), Section(first=2, last=2, full_v=29.2))

    def with_links(*links: ModuleLink) -> list[str]:
        return list(_section_faults(groups, side_by_side(*links, sections=sections), 0))

    series = [joined(f"1{s}-", f"2{s}+").model_copy(update={"last": True}) for s in "ab"]
    across = [joined("1a+", "1b+"), joined("2a-", "2b-")]
    assert with_links(*series, *across) == []
    assert with_links(*series, across[0].model_copy(update={"last": True})) == [
        "link 1a to 1b: whether it is fitted last is told wrongly"
    ]
    assert with_links(series[0].model_copy(update={"last": False}), *across) == [
        "link 1a to 2a: whether it is fitted last is told wrongly"
    ]
