"""study room."""
