"""The page of the closed, strung body."""
