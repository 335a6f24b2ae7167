"""Which wood it is: from strips, plates and blanks, and from the taps of the top itself."""
