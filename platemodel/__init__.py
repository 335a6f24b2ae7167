"""Works out the bass bar for a given violin, viola or cello top from workshop measurements."""

__version__ = "0.1.0"
