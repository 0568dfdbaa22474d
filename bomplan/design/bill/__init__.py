"""Which families a conversion needs, how many of each, and which rows suit the core."""

from bomplan.design.bill import body, branches, charging, driveline, links, low_side, traction
from bomplan.design.bill.joints import JOINTS, Joint
from bomplan.design.bill.rule import DesignCurrents, Rule, at_least, at_most

RULES: tuple[Rule, ...] = (
    driveline.RULES
    + traction.RULES
    + branches.RULES
    + charging.RULES
    + low_side.RULES
    + body.RULES
    + links.RULES
)
RULE_OF: dict[str, Rule] = {rule.family: rule for rule in RULES}

__all__ = ["JOINTS", "RULES", "RULE_OF", "DesignCurrents", "Joint", "Rule", "at_least", "at_most"]
