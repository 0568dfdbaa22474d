"""Makes the pages of the documentation that are drawn from the program itself."""
