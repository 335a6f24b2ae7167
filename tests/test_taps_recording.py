"""WAV files of every kind a phone or editor writes, and files that cannot be used."""

import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.io import wavfile

from platemodel.errors import RecordingError
from platemodel.taps import Recording, find_taps, read_recording, ring, ringing, write_recording

#: Largest rounding error of each kind, of full scale: half a step (24 and 32 bit, float: smaller than that of
#: the single precision in which scipy may hand them over).
KINDS = {"u8": 2.0**-8, "i16": 2.0**-16, "i24": 2.0**-23, "i32": 2.0**-24, "f32": 2.0**-24, "f64": 2.0**-24}


def wave(rate=16000, seconds=0.5, peak=0.4):
    t = np.arange(round(rate * seconds)) / rate
    return peak * np.exp(-8 * t) * np.sin(2 * np.pi * 200 * t)


def write_wav(path, channels, rate, kind):
    """A WAV file of the given kind; 24 bit by hand, with the extensible header that such files carry."""
    x = np.atleast_2d(channels).T
    if kind == "i24":
        raw = np.round(x * 2**23).astype("<i4")
        body = raw.reshape(-1, 1).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
        n = x.shape[1]
        guid = b"\x01\x00\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"
        head = struct.pack("<HHIIHHHHI", 0xFFFE, n, rate, rate * n * 3, n * 3, 24, 22, 24, 0) + guid
        chunks = b"fmt " + struct.pack("<I", len(head)) + head + b"data" + struct.pack("<I", len(body)) + body
        path.write_bytes(b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks)
        return path
    raw = {
        "u8": lambda: np.round(x * 128 + 128).astype(np.uint8),
        "i16": lambda: np.round(x * 2**15).astype(np.int16),
        "i32": lambda: np.round(x * 2**31).astype(np.int32),
        "f32": lambda: x.astype(np.float32),
        "f64": lambda: x,
    }[kind]()
    wavfile.write(path, rate, raw)
    return path


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("channels", [1, 2])
def test_every_kind_of_number_reads_the_same(tmp_path, kind, channels):
    x = wave()
    r = read_recording(write_wav(tmp_path / "a.wav", [x] * channels, 16000, kind))
    assert (r.rate, r.source, len(r.clipped)) == (16000, "a.wav", 0)
    # the median of the samples, which is taken off, is within a step of 0
    assert np.abs(r.samples - x).max() <= 2 * KINDS[kind]


@pytest.mark.parametrize("rate", [8000, 11025, 22050, 44100, 48000, 96000, 192000])
def test_rates(tmp_path, rate):
    r = read_recording(write_wav(tmp_path / "a.wav", wave(rate), rate, "i16"))
    assert r.rate == rate
    assert r.seconds == pytest.approx(0.5, abs=1 / rate)


def test_writing_and_reading_again(tmp_path):
    r = ring([90, 300], 0.02, [1, 0.5])
    path = write_recording(tmp_path / "a.wav", r)
    again = read_recording(path)
    assert np.abs(again.samples - r.samples).max() < 2.0**-14
    assert path.stat().st_size == 44 + 2 * len(r.samples)  # RIFF/WAVE: 44 bytes of header, 2 a sample
    assert [p.name for p in tmp_path.iterdir()] == ["a.wav"]
    loud = Recording(3 * r.samples, r.rate, "x", r.clipped)
    with pytest.raises(RecordingError, match="full scale"):
        write_recording(path, loud)
    assert len(read_recording(path).samples) == len(r.samples)


def test_the_better_channel_is_taken(tmp_path):
    x = wave()
    silent = read_recording(write_wav(tmp_path / "a.wav", [x, 0 * x], 16000, "i16"))
    assert np.abs(silent.samples - x).max() < 2e-4
    opposite = read_recording(write_wav(tmp_path / "b.wav", [x, -0.9 * x], 16000, "i16"))
    assert np.abs(opposite.samples - x).max() < 2e-4
    cut = np.clip(4 * x, -0.5, 0.5)
    one = read_recording(write_wav(tmp_path / "c.wav", [cut, x], 16000, "i16"))
    assert len(one.clipped) == 0
    assert np.abs(one.samples - x).max() < 2e-4


@pytest.mark.parametrize("top", [1.0, 0.6])
@pytest.mark.parametrize("rate", [8000, 48000, 192000])
def test_clipping_is_seen_at_and_below_full_scale(tmp_path, rate, top):
    x = np.clip(wave(rate, peak=2.0), -top, top * (1 - 2.0**-15))
    r = read_recording(write_wav(tmp_path / "a.wav", x, rate, "i16"))
    share = np.diff(r.clipped, axis=1).sum() / len(r.samples)
    assert share == pytest.approx(np.mean(np.abs(x) > 0.999 * top), rel=0.15)
    assert len(r.clipped) > 6
    clean = read_recording(write_wav(tmp_path / "b.wav", wave(rate, peak=0.9), rate, "i16"))
    assert len(clean.clipped) == 0


def test_a_steady_hum_is_not_taken_for_clipping(tmp_path):
    t = np.arange(48000) / 48000
    x = 0.1 * np.sin(2 * np.pi * 50 * t)  # stays within a step of its top for some samples, in each period
    assert len(read_recording(write_wav(tmp_path / "a.wav", x, 48000, "i16")).clipped) == 0


def refused(path):
    with pytest.raises(RecordingError) as caught:
        read_recording(path)
    text = str(caught.value)
    assert text.startswith(path.name)
    assert "\n" not in text
    return text


def test_files_that_cannot_be_used(tmp_path):
    p = tmp_path / "a.wav"
    assert "no such file" in refused(p)
    assert "folder" in refused(tmp_path)
    p.write_bytes(b"")
    assert "an empty file" in refused(p)
    for raw, word in (
        (b"\x00\x00\x00\x20ftypM4A ", "M4A"),
        (b"ID3\x04", "MP3"),
        (b"OggS", "OGG"),
        (b"hello", "no WAV"),
    ):
        p.write_bytes(raw + bytes(40))
        text = refused(p)
        assert word in text
        assert "export it as WAV" in text
    assert "silence" in refused(write_wav(p, np.zeros(9000), 16000, "i16"))
    assert "no samples" in refused(write_wav(p, np.zeros(0), 16000, "i16"))
    assert "only 0.1" in refused(write_wav(p, wave(seconds=0.1), 16000, "i16"))
    assert "sampling rate of 2000" in refused(write_wav(p, wave(2000), 2000, "i16"))
    assert "no numbers" in refused(write_wav(p, np.full(9000, np.nan), 16000, "f32"))
    whole = write_wav(p, wave(), 16000, "i16").read_bytes()
    p.write_bytes(whole[:20] + b"\x11\x00" + whole[22:])  # ADPCM
    assert "compressed" in refused(p)


@settings(deadline=None, derandomize=True, max_examples=100)
@given(st.data())
def test_any_damage_gives_a_recording_or_a_clear_error(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("wav") / "a.wav"
    kind = data.draw(st.sampled_from(["u8", "i16", "i24", "f32"]))
    raw = write_wav(path, wave(8000, 0.3), 8000, kind).read_bytes()
    a = data.draw(st.integers(0, 80))
    b = data.draw(st.integers(a, 90))
    end = data.draw(st.integers(60, len(raw)))
    path.write_bytes(raw[:a] + data.draw(st.binary(max_size=8)) + raw[b:end])
    try:
        samples, said = read_recording(path).samples, "a.wav: found"
    except RecordingError as error:
        samples, said = np.zeros(1), str(error)
    assert np.isfinite(samples).all()
    assert said.startswith("a.wav: found")


# ---------------------------------------------------------------- finding taps


def test_taps_of_different_levels_in_noise():
    levels = [0, -12, -3, -20, -6]
    r = ring([90, 170, 330], 0.02, [1, 0.7, 0.8], taps=5, levels_db=levels, noise_db=-50, lead_seconds=0.4)
    taps = find_taps(r)
    # attacks at 0.4 s and each second after; a tenth of the peak is reached within a few ms
    assert [t.start / r.rate for t in taps] == pytest.approx(0.4 + np.arange(5), abs=0.005)
    # dB of full scale: peak 0.5; the highest of the noise, 3.3 times its rms, raises the softest by 0.9 dB,
    # what still rings of the tap before it by 0.2 dB
    assert [t.level_db for t in taps] == pytest.approx(-6.02 + np.array(levels), abs=1.1)


def test_handling_noise_and_rumble_are_no_taps():
    r = ring([90, 170, 330], 0.02, [1, 0.7, 0.8], taps=3, noise_db=-50, lead_seconds=1.5, rate=22050)
    rng = np.random.default_rng(1)
    n = round(0.6 * r.rate)
    x = r.samples.copy()
    x[5000 : 5000 + n] += 0.05 * np.hanning(n) * rng.standard_normal(n)  # a rubbing hand
    x += 0.05 * np.cumsum(rng.standard_normal(len(x))) / np.sqrt(len(x))  # rumble
    taps = find_taps(Recording(x, r.rate, "x", r.clipped))
    assert [t.start / r.rate for t in taps] == pytest.approx([1.5, 2.5, 3.5], abs=0.005)


def test_beating_modes_are_one_tap():
    # 9 Hz apart and of equal strength: the level dips to nothing and comes back every 111 ms
    assert len(find_taps(ring([300, 309], 0.006, [1, 1], taps=2, seconds=2, noise_db=-50))) == 2


def test_a_tap_at_the_very_start():
    (tap,) = find_taps(ring([90, 300], 0.02, [1, 1], lead_seconds=0, noise_db=-40))
    assert tap.start < 50


def test_clipped_taps_are_counted_and_refused(tmp_path):
    clean = ring([90, 170, 330], 0.01, [1, 0.7, 0.8], taps=3, levels_db=[-14, 0, 0], noise_db=-60, peak=1.0)
    x = np.clip(6 * clean.samples, -1, 1)
    r = read_recording(write_wav(tmp_path / "a.wav", x * (1 - 2.0**-15), round(clean.rate), "i16"))
    taps = find_taps(r)
    assert [t.clipped for t in taps] == [False, True, True]
    assert len(ringing(r)) == 1
    x = x[round(0.9 * clean.rate) :]
    r = read_recording(write_wav(tmp_path / "b.wav", x * (1 - 2.0**-15), round(clean.rate), "i16"))
    with pytest.raises(RecordingError, match=r"b\.wav: found no usable tap: of 2, 2 clipped .* softly"):
        ringing(r)


def test_no_tap_at_all():
    x = 0.1 * np.random.default_rng(0).standard_normal(30000)
    noise = Recording(x, 8000.0, "n.wav", np.zeros((0, 2), int))
    assert find_taps(noise) == ()
    with pytest.raises(RecordingError, match=r"n\.wav: found no tap"):
        ringing(noise)
