"""fem room."""
