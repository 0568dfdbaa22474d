"""What tracks, tyres, corners, masses of the papers and shares must be to each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project

Finding = tuple[KeyPath, Fault]

DRIVER_G: Final = 75_000
_FARTHEST_ASIDE_MM: Final = 2_000
_HIGHEST_MM: Final = 4_000


def chassis_figures(project: Project) -> Iterator[Finding]:
    """Figures of the chassis that cannot hold together."""
    yield from _tyres(project)
    yield from _sides(project)
    yield from _tracks(project)
    yield from _aside_and_high(project)
    shares = project.house_rules
    for low, high, key in (
        (shares.minimum_front_share, shares.maximum_front_share, "maximum_front_share"),
        (shares.minimum_left_share, shares.maximum_left_share, "maximum_left_share"),
    ):
        if low is not None and high is not None and low > high:
            yield ("house_rules", key), Fault(
                "project.order", "is below the least share that is asked for",
                value=f"{100 * high:g} %", allowed=f"{100 * low:g} % or more",
            )  # fmt: skip
    seen: set[str] = set()
    for i, part in enumerate(project.places.parts):
        for key, families in (("family", (part.family,)), ("also", part.also)):
            for family in families:
                if family in seen:
                    yield ("places", "parts", i, key), Fault(
                        "project.name-twice", "has a place already", value=family,
                        allowed="one place for each family",
                        hint='to share a place, name further families in its "also"',
                    )  # fmt: skip
                seen.add(family)
        if part.also and "motor" in part.families:
            yield ("places", "parts", i, "also"), Fault(
                "project.place-size", "shares the motor's place, which is the motor's alone",
                value=", ".join(part.families), allowed="a place beside it",
                hint="the motor is judged along its shaft; give the other parts a place of theirs",
            )  # fmt: skip


def chassis_cautions(project: Project) -> Iterator[Finding]:
    """A papers' mass that looks like the other kind; corners that lean; three wheels."""
    donor, weighing = project.donor, project.donor.weighing
    yield from _three_wheels(project)
    papers = donor.papers_mass
    if papers is not None:
        empty_g = weighing.front_g + weighing.rear_g - weighing.people_g
        nobody_g = papers.mass_g - (DRIVER_G if papers.driver else 0)
        apart = empty_g - nobody_g
        other = "with a driver of 75 kg" if not papers.driver else "with nobody in it"
        closer = abs(abs(apart) - DRIVER_G) < 25_000 and (apart < 0) != papers.driver
        if closer:
            yield ("donor", "papers_mass", "driver"), Fault(
                "project.two-empty-masses",
                "is 75 kg away from what was weighed, as if the papers meant the other kind"
                " of empty mass",
                value=f"{papers.mass_g / 1000:g} kg against {empty_g / 1000:g} kg weighed",
                hint=f"look whether the papers mean the car {other}",
            )  # fmt: skip
    corners = weighing.corners_g
    if corners is not None:
        left, total = corners[0] + corners[2], sum(corners)
        if abs(2 * left - total) > total // 10:
            yield ("donor", "weighing", "front_left"), Fault(
                "project.leaning", "and its like put more than 55 % of the car on one side",
                value=f"{100 * left / total:.1f} % on the left",
                hint="were two corners exchanged, or one read twice?",
            )  # fmt: skip


def _three_wheels(project: Project) -> Iterator[Finding]:
    donor = project.donor
    counts, tracks = donor.tyre_counts, (donor.track_front_mm, donor.track_rear_mm)
    if min(counts) == 1 < max(counts) and tracks[counts.index(max(counts))] is None:
        pair = ("front", "rear")[counts.index(max(counts))]
        yield ("donor", f"track_{pair}"), Fault(
            "project.three-wheels",
            "is not given: whether it overturns in a bend before it slides is not worked out",
            hint="three wheels overturn sooner than four; measure between the middles of the"
            f" {pair} tyres",
        )  # fmt: skip


def _tyres(project: Project) -> Iterator[Finding]:
    tyres = project.donor.tyres
    for key in ("front_count", "rear_count"):
        count = getattr(tyres, key)
        if count == 3:
            yield ("donor", "tyres", key), Fault(
                "project.tyres", "is no number of tyres of one axle", value="3",
                allowed="1, 2 or 4",
            )  # fmt: skip


def _sides(project: Project) -> Iterator[Finding]:
    """What loads of single wheels need before they can be limited."""
    donor, rules = project.donor, project.house_rules
    asked: list[KeyPath] = [
        ("house_rules", key)
        for key in ("minimum_left_share", "maximum_left_share")
        if getattr(rules, key) is not None
    ]
    asked += [
        ("donor", key)
        for key in ("front_wheel_limit", "rear_wheel_limit")
        if getattr(donor, f"{key}_g") is not None
    ]
    if 1 in donor.tyre_counts:
        for path in asked:
            yield path, Fault(
                "project.sides", "limits single wheels, which is worked out for two on each axle",
                allowed="leave it out, or give more than one wheel to both axles",
            )  # fmt: skip
        return
    missing = [
        key
        for key, value in (
            ("donor.track_front", donor.track_front_mm),
            ("donor.track_rear", donor.track_rear_mm),
            ("donor.weighing.front_left and the other corners", donor.weighing.corners_g),
        )
        if value is None
    ]
    if missing:
        for path in asked:
            yield path, Fault(
                "project.sides", "limits single wheels, and what they carry is not known",
                hint="add " + ", ".join(missing),
            )  # fmt: skip


def _tracks(project: Project) -> Iterator[Finding]:
    """Tracks and corners where an axle has two sides only."""
    donor = project.donor
    for key in ("track_front", "track_rear"):
        track = getattr(donor, f"{key}_mm")
        if track is not None and donor.tyre_counts[key == "track_rear"] == 1:
            what = "a motorcycle" if donor.kind == "motorcycle" else "an axle with one wheel"
            yield ("donor", key), Fault(
                "project.place", f"is a track, and {what} has none", value=f"{track} mm",
                allowed="leave it out",
            )  # fmt: skip
        elif track is not None and not 500 <= track <= 3_000:
            yield ("donor", key), Fault(
                "project.place", "is no track of a road vehicle", value=f"{track} mm",
                allowed="500 mm to 3000 mm",
            )  # fmt: skip
    if 1 in donor.tyre_counts and donor.weighing.corners_g is not None:
        what = "a motorcycle has none" if donor.kind == "motorcycle" else "one axle has one wheel"
        yield ("donor", "weighing", "front_left"), Fault(
            "project.corners", f"is a corner, and {what}",
            allowed="front and rear only",
        )  # fmt: skip


def _aside_and_high(project: Project) -> Iterator[Finding]:
    donor, places = project.donor, project.places
    points: list[tuple[KeyPath, int | None, int | None]] = []
    for key in ("removed", "kept", "added", "zones"):
        points += [(("donor", key, i), m.y_mm, m.z_mm) for i, m in enumerate(getattr(donor, key))]
    for i, case in enumerate(project.load_cases):
        points += [
            (("load_cases", i, "items", j), m.y_mm, m.z_mm) for j, m in enumerate(case.items)
        ]
    points += [(("bays", i), bay.y_mm, bay.z_mm) for i, bay in enumerate(project.bays)]
    points += [(("places", "parts", i), p.y_mm, p.z_mm) for i, p in enumerate(places.parts)]
    for path, y_mm, z_mm in points:
        if y_mm is not None and abs(y_mm) > _FARTHEST_ASIDE_MM:
            yield (*path, "y"), Fault(
                "project.place", "lies beside the car", value=f"{y_mm} mm",
                allowed=f"within {_FARTHEST_ASIDE_MM} mm of its middle",
                hint="y counts to the right from the middle of the car",
            )  # fmt: skip
        if z_mm is not None and not 0 <= z_mm <= _HIGHEST_MM:
            yield (*path, "z"), Fault(
                "project.place", "is no height above the ground", value=f"{z_mm} mm",
                allowed=f"0 mm to {_HIGHEST_MM} mm",
            )  # fmt: skip
