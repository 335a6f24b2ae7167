"""The closed, strung instrument: what the bar carries on its ribs, and what it does to the sound."""
