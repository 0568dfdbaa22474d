"""Drawings of a plan as plain SVG: they read the plan and decide nothing."""
