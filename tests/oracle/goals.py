"""What a whole plan of the brute force comes to by each goal, counted here anew."""

from __future__ import annotations

from oracle.brute_force import Candidate

from bomplan.design.adapter import Simulator


def mass(simulator: Simulator, candidate: Candidate) -> int:
    """Grams of everything that is fitted."""
    del simulator
    return sum(pick.fitted * pick.part.mass_g for pick in candidate.picks)
