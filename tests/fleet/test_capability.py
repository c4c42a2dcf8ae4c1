"""What a fleet shows of its process, against the figures of the NIST/SEMATECH e-Handbook and of NIST StRD."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("scipy", reason="the extra `fleet` is not installed")
pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")

from fleet_tools import batch, bushes, long_table, shop, write_table
from scipy import stats

from checker.cli import main
from checker.fleet.capability import fraction_outside, indices, is_normal, slope, with_confidence
from checker.fleet.seen import Moments, moments_of

MICHELSO = (
    "850 740 900 1070 930 850 950 980 980 880 1000 980 930 650 760 810 1000 1000 960 960 960 940 960 940 880 800 "
    "850 880 900 840 830 790 810 880 880 830 800 790 760 800 880 880 880 860 720 720 620 860 970 950 880 910 850 "
    "870 840 840 850 840 840 840 890 810 810 820 800 770 760 740 750 760 910 920 890 860 880 720 840 850 850 780 "
    "890 840 780 810 760 810 790 810 820 850 870 870 810 740 810 940 950 800 810 870"
)
"""Michelson's 100 speeds of light of 1879, in km/s above 299,000."""


def in_pieces(values: Any, size: int) -> Moments:
    found = Moments()
    for start in range(0, len(values), size):
        piece = np.array(values[start : start + size], dtype=np.float64)
        found = found.plus(moments_of(np.arange(start, start + piece.size, dtype=np.float64), piece))
    return found


@pytest.mark.parametrize("size", [1, 7, 1001])
@pytest.mark.parametrize(
    ("values", "mean", "deviation", "digits"),
    [
        # NIST StRD, univariate summary statistics: Michelso, NumAcc1 to NumAcc4; certified values.
        ([299 + int(speed) / 1000 for speed in MICHELSO.split()], 299.852400000000, 0.0790105478190518, 13),
        ([10000001, 10000003, 10000002], 10000002, 1, 13),
        ([1.2, *[1.1, 1.3] * 500], 1.2, 0.1, 13),
        ([1000000.2, *[1000000.1, 1000000.3] * 500], 1000000.2, 0.1, 9),
        ([10000000.2, *[10000000.1, 10000000.3] * 500], 10000000.2, 0.1, 7),
    ],
)
def test_mean_and_standard_deviation_keep_their_digits(
    values: Any, mean: float, deviation: float, digits: int, size: int
) -> None:
    found = in_pieces(values, size)
    assert found.n == len(values)
    assert found.mean == pytest.approx(mean, rel=1e-14)
    assert found.deviation == pytest.approx(deviation, rel=10.0**-digits)


NORRIS = (
    "0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 228.1 "
    "995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5",
    "0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 228.3 "
    "998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2",
)


def test_the_slope_and_its_confidence() -> None:
    """NIST StRD, linear regression, Norris: B1 1.00211681802045, its standard deviation 0.429796848199937E-03."""
    when, values = (np.array(text.split(), dtype=np.float64) for text in NORRIS)
    found = slope(moments_of(when[:10], values[:10]).plus(moments_of(when[10:], values[10:])))
    assert found is not None
    assert found.value == pytest.approx(1.00211681802045, rel=1e-12)
    # e-Handbook 1.3.6.7.2: the upper critical value of Student's t at 0.975 with 34 degrees of freedom is 2.032.
    assert (found.high - found.value) / 2.032 == pytest.approx(0.429796848199937e-03, rel=2e-4)
    assert slope(moments_of(when[:20], values[:20])) is None  # too few


def test_cp_and_cpk_of_the_handbook() -> None:
    """e-Handbook 6.1.6: limits 8 and 20, mean 16, standard deviation 2: Cp 1.0, Cpk 0.6667 (Cpl 1.3333)."""
    assert indices(16, 2, 8, 20) == pytest.approx((1.0, 2 / 3))
    assert indices(16, 2, None, 20) == (None, pytest.approx(2 / 3))
    assert indices(16, 2, 8, None) == (None, pytest.approx(4 / 3))
    assert indices(21, 2, 8, 20)[1] < 0


def test_the_confidence_of_cpk_holds_what_it_says() -> None:
    """Of 3,000 samples of 50 from a process whose Cpk is 1, 95 in 100 intervals hold it."""
    random = np.random.default_rng(4)
    samples = random.normal(0, 1, (3000, 50))
    means, deviations = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    holds = 0
    for mean, deviation in zip(means.tolist(), deviations.tolist(), strict=True):
        found = with_confidence(indices(mean, deviation, None, 3.0)[1], 50)
        holds += found.low <= 1.0 <= found.high
    assert 0.935 <= holds / 3000 <= 0.965


def test_the_fraction_outside_and_its_confidence() -> None:
    """e-Handbook 7.2.4.2: four of twenty, 90 percent: 0.071354 to 0.401029."""
    assert fraction_outside(4, 20, confidence=0.90) == pytest.approx((0.2, 0.071354, 0.401029), abs=1e-6)
    assert fraction_outside(0, 30).high == pytest.approx(1 - 0.025 ** (1 / 30))  # (1 - p) ** 30 is 0.025
    assert fraction_outside(0, 30, undecided=30) == pytest.approx((0, 0, 1))


@given(st.integers(0, 40), st.integers(0, 20), st.integers(0, 40))
def test_values_in_doubt_never_make_the_fraction_look_smaller(outside: int, undecided: int, within: int) -> None:
    n = outside + undecided + within
    if n:
        found, told = fraction_outside(outside, n, undecided), fraction_outside(outside, n)
        assert found.low == told.low and found.high >= told.high
        assert fraction_outside(outside + undecided, n).value <= found.high


def test_what_is_not_normal_is_told_from_what_is() -> None:
    random = np.random.default_rng(5)
    assert is_normal(random.normal(5, 1, 1000).round(0))  # a coarse scale is no skew
    assert not is_normal(random.exponential(1, 1000))
    assert not is_normal(np.concatenate([random.normal(0, 1, 500), random.normal(8, 1, 500)]))  # two machines


@pytest.fixture
def table() -> dict[str, list[Any]]:
    """400 assemblies whose bores grow by 0.008 mm from the first to the last."""
    found = bushes(400)
    for station in (1, 2):
        found[f"bore@{station}"] = (np.array(found[f"bore@{station}"]) + np.linspace(0, 0.008, 400)).tolist()
    return found


def capability(
    folder: Path, table: dict[str, list[Any]], *words: str, rows: int = 150, more: tuple[str, ...] = ()
) -> Any:
    """The data that the command tells, from a batch of this table."""
    folder.mkdir(exist_ok=True)
    path = write_table(folder / "all.parquet", table)
    out = folder / "out"
    assert batch(path, *shop(folder), "--assembly", "serial", "--output", out, "--rows", rows, *more) in (0, 1, 3)
    target = folder / "told.json"
    assert main(["capability", str(out), *words, "--by-station", "--format", "json", "--output", str(target)]) == 0
    return json.loads(target.read_text())


def test_limits_that_are_alike_for_all_values(tmp_path: Path, table: dict[str, list[Any]]) -> None:
    (told,) = capability(tmp_path, table, "end gap")
    values = np.array(table["end_gap"])
    assert (told["n"], told["low"], told["high"], told["vary"], told["band"]) == (400, 0.1, 0.5, False, "must")
    assert told["mean"] == pytest.approx(values.mean()) and told["deviation"] == pytest.approx(values.std(ddof=1))
    assert told["cp"] == pytest.approx(0.4 / (6 * values.std(ddof=1)))
    assert told["cpk"]["value"] == pytest.approx(
        min(values.mean() - 0.1, 0.5 - values.mean()) / (3 * values.std(ddof=1))
    )
    fit = stats.linregress(np.arange(400), values)
    assert told["drift"]["value"] == pytest.approx(fit.slope * np.sqrt(400**2 - 1))
    assert not told["drifts"]


def test_limits_that_go_with_sizes(tmp_path: Path, table: dict[str, list[Any]]) -> None:
    """Each clearance lies on a band of its own, 0.001 to 0.004 times its pin; the bores drift."""
    together, first, second = capability(tmp_path, table, "clearance")
    pins, bores = (np.array([table[f"{name}@{station}"] for station in (1, 2)]) for name in ("pin", "bore"))
    places = ((bores - pins) - 0.001 * pins) / (0.003 * pins)
    for told, own in ((together, places), (first, places[0]), (second, places[1])):
        assert (told["n"], told["low"], told["high"], told["vary"]) == (own.size, None, None, True)
        assert told["cp"] == pytest.approx(1 / (6 * own.std(ddof=1)))
        assert told["cpk"]["value"] == pytest.approx(min(own.mean(), 1 - own.mean()) / (3 * own.std(ddof=1)))
        assert told["drifts"]
    assert together["drift"]["value"] == pytest.approx(0.008, abs=0.002)
    assert [first["where"], second["where"]] == ["bush 1", "bush 2"]
    outside = (places < -1e-9) | (places > 1 + 1e-9)
    assert together["outside"] == outside.sum() == first["outside"] + second["outside"]


def test_where_nothing_is_required_beyond_what_is_recommended_is_outside(
    tmp_path: Path, table: dict[str, list[Any]]
) -> None:
    together, *_ = capability(tmp_path, table, "size of a pin")
    beyond = sum(pin > 20.003 + 1e-9 for station in (1, 2) for pin in table[f"pin@{station}"])
    assert (together["band"], together["low"], together["high"]) == ("should", None, 20.003)
    assert (together["outside"], together["fraction"]["value"]) == (beyond, beyond / 800)
    assert beyond > 20


def test_what_is_too_few_in_doubt_or_not_normal_has_no_cpk(tmp_path: Path, table: dict[str, list[Any]]) -> None:
    few = {name: cells[:24] for name, cells in table.items()}
    (told,) = capability(tmp_path / "few", few, "end gap")
    assert (told["n"], told["mean"], told["cpk"], told["fraction"]) == (24, None, None, None)
    assert told["reasons"] == ["undecided: 24 values, at least 25 are needed"]
    table["end_gap"] = (0.12 + np.random.default_rng(6).exponential(0.05, 400)).round(3).tolist()
    (told,) = capability(tmp_path / "skewed", table, "end gap")
    assert (told["cp"], told["cpk"]) == (None, None)
    assert told["reasons"] == ["no Cpk: the values are not normally distributed"]
    near = dict(table, end_gap=[0.1015, *[0.3, 0.31, 0.29] * 133])
    (told,) = capability(tmp_path / "near", near, "end gap", more=("--instrument", "end_gap=micrometer"))
    assert (told["outside"], told["undecided"]) == (0, 1)
    assert told["fraction"]["high"] > stats.binomtest(0, 400).proportion_ci().high
    assert any("too near a limit" in reason for reason in told["reasons"])


def test_what_does_not_count_is_told_and_not_passed_over(
    tmp_path: Path, table: dict[str, list[Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Gaps beyond all that is possible, and lines that cannot be read, may be those that are outside."""
    gaps = [str(gap) for gap in table["end_gap"]]
    gaps[10:16], gaps[200:203] = ["30"] * 6, ["wide"] * 3
    path = write_table(tmp_path / "all.csv", dict(table, end_gap=gaps))
    asked = (*shop(tmp_path), "--assembly", "serial", "--rows", "50", "--format", "json", "--output")
    assert main(["capability", str(path), "end", "gap", *asked, str(tmp_path / "told.json")]) == 0
    (told,) = json.loads((tmp_path / "told.json").read_text())
    assert told["n"] == 391
    assert told["reasons"] == [
        "6 have no value that counts: not measured, or not possible as written",
        "3 rows were set aside; checker batch says why",
    ]
    path = write_table(tmp_path / "none.csv", dict(table, end_gap=["30"] * 400))
    assert main(["capability", str(path), "end", "gap", *shop(tmp_path), "--assembly", "serial"]) == 2
    assert "no value was judged of: End gap (400 have no value that counts" in capsys.readouterr().err


def test_parts_of_any_size_tell_the_same(tmp_path: Path, table: dict[str, list[Any]]) -> None:
    table["pin@2"][7] = None
    one = capability(tmp_path / "one", table, "clearance", rows=37)
    other = capability(tmp_path / "other", table, "clearance", rows=5000)
    assert [told["n"] for told in one] == [799, 400, 399]
    for a, b in zip(one, other, strict=True):
        assert a["cpk"]["value"] == pytest.approx(b["cpk"]["value"], rel=1e-9)
        assert a["drift"]["value"] == pytest.approx(b["drift"]["value"], rel=1e-9)


def test_in_words_and_as_a_page(
    tmp_path: Path, table: dict[str, list[Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    capability(tmp_path, table, "clearance")
    capsys.readouterr()
    assert main(["capability", str(tmp_path / "out"), "clearance"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Clearance of a bush: 800 values\n  required of each value by its own sizes\n")
    assert "drifts, by" in told and "Cpk" in told and "ISO 22514-2" in told
    target = tmp_path / "page.html"
    assert main(["capability", str(tmp_path / "out"), "gap", "--format", "html", "--output", str(target)]) == 0
    text = target.read_text()
    assert text.count('role="img"') == 2 and "End gap: 400 values" in text and "<script" not in text


@pytest.mark.parametrize("name", ["all.parquet", "all.csv", "long.csv"])
def test_a_table_is_read_as_a_batch_reads_it(name: str, tmp_path: Path, table: dict[str, list[Any]]) -> None:
    rows = {"gap_in_hundredths": [round(100 * gap) for gap in table.pop("end_gap")]}
    table |= {} if name.startswith("long") else rows
    path = write_table(tmp_path / name, long_table(table) if name.startswith("long") else table)
    how = [*shop(tmp_path), "--rows", "150", "--instrument", "pin=micrometer"]
    how += ["--layout", "long"] if name.startswith("long") else ["--assembly", "serial"]
    if not name.startswith("long"):
        places = [one for one in table if "@" in one]
        how += [f"--column={one}={one}" for one in places] + ["--column=gap_in_hundredths/100=end_gap"]
    assert batch(path, *how, "--output", tmp_path / "out") in (0, 1, 3)
    told = []
    for asked in ([tmp_path / "out"], [path, *how]):
        for words in (["clearance"], ["end", "gap"])[: 1 if name.startswith("long") else 2]:
            target = tmp_path / "told.json"
            more = ["--format", "json", "--output", str(target)]
            assert main(["capability", str(asked[0]), *words, *map(str, asked[1:]), *more]) == 0
            told.append(json.loads(target.read_text()))
    assert told[: len(told) // 2] == told[len(told) // 2 :]
    assert told[0][0]["n"] == 800


def test_how_a_table_is_read_is_not_said_of_a_batch(
    tmp_path: Path, table: dict[str, list[Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    capability(tmp_path, table, "end gap")
    capsys.readouterr()
    assert main(["capability", str(tmp_path / "out"), "gap", "--assembly", "serial", "--record", "shop.yaml"]) == 2
    assert "--record, --assembly: " in capsys.readouterr().err
    assert main(["capability", str(tmp_path / "all.parquet"), "gap"]) == 2
    assert "nothing says what the assemblies will be used for" in capsys.readouterr().err


def test_a_rule_of_which_nothing_was_judged_is_called_by_its_title(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = {name: values for name, values in bushes(30).items() if name != "end_gap"}
    path = write_table(tmp_path / "all.parquet", table)
    batch(path, *shop(tmp_path), "--assembly", "serial", "--output", tmp_path / "out")
    assert main(["capability", str(tmp_path / "out"), "end", "gap"]) == 2
    assert "no value was judged of: End gap (" in capsys.readouterr().err


def test_tables_that_are_not_as_they_were_are_refused(
    tmp_path: Path, table: dict[str, list[Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    capability(tmp_path, table, "end gap")
    table["end_gap"][0] = 0.31
    write_table(tmp_path / "all.parquet", table)
    capsys.readouterr()
    assert main(["capability", str(tmp_path / "out"), "end", "gap"]) == 2
    assert "not as it was when" in capsys.readouterr().err
    assert main(["capability", str(tmp_path), "end", "gap"]) == 2
    assert "holds no results (checker batch makes them; a table" in capsys.readouterr().err
    write_table(tmp_path / "all.parquet", bushes(3))
    assert main(["capability", str(tmp_path / "out"), "boar"]) == 2
    assert "no rule has 'boar'" in capsys.readouterr().err
