"""What a quantity costs, and from whom."""
