"""Each target and limit as one record that planner, audit and report share."""
