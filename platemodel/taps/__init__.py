"""Recordings of taps: read and write them, find the taps, their peaks with uncertainty, make them by rule.

Knows no instruments and imports no other room.
"""

from platemodel.taps.find import Ringing, Tap, find_taps, ringing
from platemodel.taps.peaks import STEADY, tap_peaks
from platemodel.taps.recording import Recording, read_recording, write_recording
from platemodel.taps.spectrum import tap_spectrum
from platemodel.taps.synthesis import FINGER, KNUCKLE, contact_weight, ring

__all__ = [
    "FINGER",
    "KNUCKLE",
    "Recording",
    "Ringing",
    "STEADY",
    "Tap",
    "contact_weight",
    "find_taps",
    "read_recording",
    "ring",
    "ringing",
    "tap_peaks",
    "tap_spectrum",
    "write_recording",
]
