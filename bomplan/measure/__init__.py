"""What the real car says: readings held against the plan."""

from bomplan.measure.readings import Reading, read_readings
from bomplan.measure.template import readings_template
from bomplan.measure.weigh_in import WeighIn, weigh_in

__all__ = ["Reading", "WeighIn", "read_readings", "readings_template", "weigh_in"]
