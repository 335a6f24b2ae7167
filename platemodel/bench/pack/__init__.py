"""The bench pack: everything computed once, bound as one set of sheets."""
