"""The closed, strung instrument: what the bar carries on the ribs, and its effect on the sound."""
