"""Peaks offered for modes, against all readings of a few peaks tried one by one."""

from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from platemodel.study.wood.tap_offers import BAND, common_shift, mode_numbers, offer_peaks

F = np.array([92.0, 160.0, 178.0, 340.0])
NUMBERS = (1, 2, np.nan, 5)
NAMES = ("twist", "cross", "", "ring")
PEAKS = np.array([88.0, 101.0, 152.0, 171.0, 180.0, 331.0])
LEVELS = np.array([-3.0, -25.0, 0.0, -8.0, -14.0, -6.0])


def modes(f=F, order=(0, 1, 2, 3), band=np.nan):
    table = pd.DataFrame(
        {"mode": range(1, len(f) + 1), "number": NUMBERS, "name": NAMES, "f_hz": f, "band_hz": band}
    )
    return SimpleNamespace(table=table.iloc[list(order)].reset_index(drop=True))


def peaks(f=PEAKS, level=LEVELS):
    return pd.DataFrame({"f_hz": f, "sd_hz": 0.5, "loss": 0.02, "level_db": level})


def readings(m, p):
    """All ways to join some of m modes with as many of p peaks, in order of pitch."""
    for count in range(min(m, p) + 1):
        for some in combinations(range(m), count):
            for heard in combinations(range(p), count):
                yield dict(zip(some, heard, strict=True))


def brute(f, numbers, heard, level, widest=1.5):
    """Best likelihood of readings that join a mode and a peak, over that of all: {(mode, peak): score}.

    The wood moves all modes together, with half the band as its standard deviation, each by itself with 0.35
    of it; 20 dB are one standard deviation of a peak's strength; a mode that nobody heard costs exp(-3) if it
    is one that the tap was meant for, else exp(-0.7). Our judgements, as the room states them.
    """
    best, whole = {}, -np.inf
    for shift in np.linspace(-widest, widest, 61) * BAND:
        common = -0.5 * (shift / (0.5 * BAND)) ** 2
        for pairs in readings(len(f), len(heard)):
            if any(abs(np.log(heard[j] / f[i])) > np.log1p(widest * BAND) for i, j in pairs.items()):
                continue
            total = common
            for i in range(len(f)):
                if i in pairs:
                    off = np.log(heard[pairs[i]] / f[i]) - shift
                    total -= 0.5 * (off / (0.35 * BAND)) ** 2 + 0.5 * (level[pairs[i]] / 20.0) ** 2
                else:
                    total -= 3.0 if numbers[i] in (1, 2, 5) else 0.7
            whole = max(whole, total)
            for pair in pairs.items():
                best[pair] = max(best.get(pair, -np.inf), total)
    return {pair: np.exp(value - whole) for pair, value in best.items()}


@pytest.mark.parametrize("factor", [1.0, 0.93, 1.1])
def test_scores_are_those_of_all_readings_tried_one_by_one(factor):
    """Dynamic programming finds what trying all of them finds, to round-off. Offered is what lies within the
    band, and up to half as far again what scores at least a tenth.
    """
    heard = factor * PEAKS
    table = offer_peaks(peaks(heard), modes())
    expected = brute(F, NUMBERS, heard, LEVELS)
    offered = {}
    for _, row in table[table["rank"] > 0].iterrows():
        i, j = int(row["mode"]) - 1, int(np.argmin(np.abs(heard - row["f_hz"])))
        offered[i, j] = row["score"]
        assert row["off_percent"] == pytest.approx(100 * (heard[j] / F[i] - 1))
        assert (row["predicted_hz"], row["level_db"]) == (F[i], LEVELS[j])
        assert row["mark"] == ("nearest" if row["rank"] == 1 and row["score"] > 0.999 else "")
    should = {
        (i, j): score
        for (i, j), score in expected.items()
        if abs(np.log(heard[j] / F[i])) <= np.log1p(BAND) or score > 0.1
    }
    assert offered == pytest.approx(should, rel=1e-9)
    for _, group in table.groupby("mode"):
        if group["rank"].iloc[0] == 0:
            continue
        assert group["rank"].tolist() == list(range(1, len(group) + 1))
        assert group["score"].is_monotonic_decreasing
    assert table["predicted_hz"].is_monotonic_increasing


def test_the_order_of_the_table_of_modes_does_not_matter():
    straight, mixed = (offer_peaks(peaks(), modes(order=o)) for o in ((0, 1, 2, 3), (2, 0, 3, 1)))
    assert mixed[["predicted_hz", "f_hz", "score"]].to_numpy() == pytest.approx(
        straight[["predicted_hz", "f_hz", "score"]].to_numpy()
    )
    assert mixed["name"].tolist() == straight["name"].tolist()


def test_a_mode_without_a_peak_says_so():
    """A peak 20 % up lies beyond the band and half of it again; the mesh's own band lets it in."""
    one = peaks(np.array([1.2 * F[3]]), np.zeros(1))
    alone = offer_peaks(one, modes())
    assert alone["rank"].tolist() == [0, 0, 0, 0]
    assert set(alone["mark"]) == {"no peak in its band"}
    wide = offer_peaks(one, modes(band=0.09 * F))
    assert wide["rank"].tolist() == [0, 0, 0, 1]
    assert len(offer_peaks(peaks(np.zeros(0), np.zeros(0)), modes())) == 4


def test_numbers_go_on_beside_those_told_by_shape():
    """1, 2 and 5 are kept for the modes of these shapes; the others take 3, 4, 6 as the table goes."""
    number = [np.nan, 1, np.nan, np.nan, 5, 2, np.nan]
    found = mode_numbers(SimpleNamespace(table=pd.DataFrame({"number": number})))
    assert found.tolist() == [3, 1, 4, 6, 5, 2, 7]


def offers(*off, rank=1):
    name = ("twist", "cross", "ring", "")
    rows = [{"name": n, "rank": rank, "off_percent": p} for n, p in zip(name, off, strict=False)]
    return pd.DataFrame(rows)


def test_a_common_shift_is_one_of_all_by_5_per_cent_and_in_step():
    """The mean of 1, 2 and 5, whatever other modes do; no less than 5 %, and no mode 8 % from another."""
    assert common_shift(offers(-6.0, -9.0, -7.5, 30.0)) == pytest.approx(-0.075)
    assert common_shift(offers(5.1, 5.1)) == pytest.approx(0.051)
    assert common_shift(offers(4.9, 4.9)) is None
    assert common_shift(offers(6.0, 13.9)) == pytest.approx(0.0995)
    assert common_shift(offers(6.0, 14.1)) is None
    assert common_shift(offers(9.0)) is None
    assert common_shift(offers(9.0, 9.0, rank=2)) is None
