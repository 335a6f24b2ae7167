"""The decisive day: a practice top, its bar cut from 16 to 10 mm, and what the readings decide."""
