"""Sheets to print from a plan: check sheets, driver's card, inspector's folder."""
