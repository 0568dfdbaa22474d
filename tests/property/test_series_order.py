"""Whatever stands in a box: one run, each module once, and what the audit finds by itself."""

from __future__ import annotations

from types import SimpleNamespace

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lanes import examples

from bomplan.audit.series import series_checks
from bomplan.design.bill.links import all_links
from bomplan.design.records import BayUse, Stand
from bomplan.design.series import in_series_order
from bomplan.packing import BayBox, ModuleBox, fill_order, layout

modules = st.builds(
    ModuleBox,
    st.integers(40, 420),
    st.integers(35, 260),
    st.integers(60, 290),
    st.sampled_from(["upright", "upright_or_side", "any"]),
    st.integers(0, 8),
    st.integers(0, 30),
    st.sampled_from([0, 0, 12]),
)
bays = st.lists(
    st.builds(BayBox, st.integers(200, 1300), st.integers(100, 1000), st.integers(100, 600)),
    min_size=1,
    max_size=2,
)


def placed(box: ModuleBox, bay: BayBox, name: str, parallel: int, most: int) -> BayUse | None:
    found = layout(bay, box, proof_effort=0.0, steps=2_000)
    series = min(most, found.count // parallel)
    if series == 0:
        return None
    taken = [found.positions[k] for k in fill_order(found)[: series * parallel]]
    return BayUse(
        bay=name,
        modules=series * parallel,
        series=series,
        stands=tuple(Stand(**vars(stand)) for stand in taken),
    )


@settings(max_examples=examples(15, 60), deadline=None)
@given(
    bays, modules, st.integers(1, 4), st.booleans(), st.integers(1, 24), st.booleans(),
    st.sampled_from([3.65, 14.6, 33.6, 84.0]), st.sampled_from([None, 20, 300]),
)  # fmt: skip
def test_order_links_and_sections_hold_up(
    rooms, box, parallel, strings, most, from_rear, volts, spacing
) -> None:
    uses = [placed(box, bay, f"bay {n}", parallel, most) for n, bay in enumerate(rooms)]
    uses = [use for use in uses if use is not None]
    assume(uses)
    context = SimpleNamespace(
        bays=[SimpleNamespace(name=f"bay {n}") for n in range(len(rooms))],
        bay_centre_mm=lambda _: 0,
        project=SimpleNamespace(places=SimpleNamespace(controller_x_mm=1 if from_rear else -1)),
    )
    figures = {"cells_series": 1, "cell_v_charge": volts, "terminal_spacing_mm": spacing or 0}
    drive = SimpleNamespace(
        core=SimpleNamespace(
            series=sum(use.series for use in uses),
            parallel=parallel,
            topology="strings" if strings else "groups",
        ),
        strings=parallel if strings else 1,
        module=SimpleNamespace(number=figures.__getitem__, number_or=lambda key, _: figures[key]),
    )
    ordered = in_series_order(context, drive, tuple(uses))
    bought = sum(all_links(drive, use.series) for use in uses)
    plan = SimpleNamespace(
        placement=ordered, lines=[SimpleNamespace(family="link", quantity=bought)]
    )
    checks = list(series_checks(drive, plan))
    assert len(checks) == 2 * len(uses) + 1
    assert [check.words for check in checks if not check.passed] == []
    assert ordered == in_series_order(context, drive, ordered)
    for before, after in zip(uses, ordered, strict=True):
        corners = [(s.x_mm, s.y_mm, s.z_mm) for s in before.stands]
        assert [(s.x_mm, s.y_mm, s.z_mm) for s in after.stands] == corners
