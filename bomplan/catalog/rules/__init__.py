"""The lint rules: one function each, told apart by a code."""
