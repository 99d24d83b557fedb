"""Reading a log of pressures: one unit throughout, every fault with its line."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.inputs.pressure_log import ISSUE_CODES, MOST_TYRES, read_pressure_log


@pytest.fixture
def read(tmp_path):
    def _read(text: str, encoding: str = "utf-8"):
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode(encoding))
        return read_pressure_log(path)

    return _read


def codes(issues):
    assert all(issue.code in ISSUE_CODES for issue in issues)
    return [issue.code for issue in issues if issue.severity == "error"]


@pytest.mark.parametrize(
    ("text", "kpa"),
    [
        ("date,tyre,pressure_kpa\n2026-05-04,a,240\n", 240.0),
        ("date,tyre,pressure_bar\n2026-05-04,a,2.4\n", 240.0),
        ("Date;Tyre;Pressure_Bar\n2026-05-04;a;2,4\n", 240.0),
        ("date,tyre,pressure_psi\n2026-05-04T06:10,a,35\n", 241.316495),
        ("date,tyre,pressure,unit\n2026-05-04,a,35,psi\n", 241.316495),
        ("date,tyre,pressure\n2026-05-04,a,35 psi\n", 241.316495),
        ("\ufeffdate\ttyre\tpressure_kpa\n2026-05-04\ta\t240 kPa\n", 240.0),
    ],
)
def test_units_and_forms(read, text, kpa):
    log, issues = read(text)
    assert codes(issues) == []
    assert log.pressure_kpa[0] == pytest.approx(kpa, rel=1e-9)
    assert str(log.day[0]) == "2026-05-04"
    assert log.tyre == ("a",)
    assert log.line[0] == 2


def test_charted_range_is_in_the_same_unit(read):
    head = "date,tyre,pressure_psi,charted_low_psi,charted_high_psi\n"
    log, _ = read(head + "2026-05-04,a,60,58,62\n")
    assert log.low_kpa[0] == pytest.approx(58 * 6.894757, rel=1e-9)
    log, _ = read(
        head.replace("_psi,c", "_psi,c").replace("low_psi", "low") + "2026-05-04,a,60,58,\n"
    )
    assert log.low_kpa[0] == pytest.approx(58 * 6.894757, rel=1e-9)
    assert math.isnan(log.high_kpa[0])


MIXED = [
    "date,tyre,pressure_kpa,pressure_psi\n2026-05-04,a,240,\n2026-05-05,a,,35\n",
    "date,tyre,pressure,unit\n2026-05-04,a,240,kPa\n2026-05-05,a,35,psi\n",
    "date,tyre,pressure\n2026-05-04,a,240 kPa\n2026-05-05,a,35 psi\n",
    "date,tyre,pressure\n2026-05-04,a,240 kPa\n2026-05-05,a,35\n",
    "date,tyre,pressure_kpa\n2026-05-04,a,240\n2026-05-05,a,35 psi\n",
    "date,tyre,pressure_kpa,unit\n2026-05-04,a,35,psi\n",
    "date,tyre,pressure_psi,charted_low_kpa\n2026-05-04,a,35,240\n",
]


@pytest.mark.parametrize("text", MIXED)
def test_named_units_that_differ_are_refused(read, text):
    log, issues = read(text)
    assert log is None
    assert codes(issues) == ["PRS05"]


@pytest.mark.parametrize("text", ["date,tyre,pressure\n2026-05-04,a,240\n"])
def test_no_unit_is_refused(read, text):
    log, issues = read(text)
    assert log is None
    assert codes(issues) == ["PRS05"]
    assert "No unit" in issues[0].what


def rows(values, unit="kpa"):
    body = "".join(f"2026-05-{n + 1:02d},a,{value}\n" for n, value in enumerate(values))
    return f"date,tyre,pressure_{unit}\n{body}"


@pytest.mark.parametrize(
    ("values", "unit", "lines"),
    [
        ([240, 238, 35, 241], "kpa", [4]),  # 35 psi
        ([240, 2.4, 238, 241], "kpa", [3]),  # 2.4 bar
        ([35, 34, 241, 35], "psi", [4]),  # 241 kPa
        ([35, 34, 2.4, 35], "psi", [4]),  # 2.4 bar
        ([35, 34, 240, 238], "kpa", [2, 3]),  # half and half
    ],
)
def test_units_that_differ_silently_are_refused(read, values, unit, lines):
    log, issues = read(rows(values, unit))
    assert log is None
    assert set(codes(issues)) == {"PRS06"}
    assert [issue.where for issue in issues] == [f"log.csv, line {line}" for line in lines]


def test_a_truly_flat_tyre_can_be_logged_by_naming_its_unit(read):
    log, issues = read(rows([240, 238, "35 kPa", 241]))
    assert codes(issues) == []
    assert log.pressure_kpa[2] == 35.0
    log, issues = read(rows([240, 238, 0, 120]))
    assert codes(issues) == []


def test_a_whole_log_under_the_wrong_head_is_refused(read):
    log, issues = read(rows([2.4, 2.3, 2.4]))
    assert log is None
    assert codes(issues) == ["PRS06"]


def test_every_fault_is_listed_with_its_line(read):
    text = (
        "date,tyre,pressure_kpa,charted_low_kpa,charted_high_kpa\n"
        "04/05/2026,a,240,,\n"
        "2026-05-05,,240,,\n"
        "2026-05-06,a,full,,\n"
        "2026-05-07,a,-4,,\n"
        "2026-05-08,a,240,260,250\n"
        "2026-05-09,a,240,1,2,3\n"
    )
    log, issues = read(text)
    assert log is None
    assert codes(issues) == ["PRS03", "PRS03", "PRS04", "PRS04", "PRS04", "PRS03"]
    assert [issue.where for issue in issues] == [f"log.csv, line {n}" for n in range(2, 8)]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "PRS01"),
        ("date,pressure_kpa\n2026-05-04,240\n", "PRS02"),
        ("date,tyre,tyre,pressure_kpa\n", "PRS02"),
        ("date,tyre\n2026-05-04,a\n", "PRS02"),
        ("date,tyre,pressure_kpa\n", "PRS07"),
        ("date,tyre,pressure_kpa\n2026-05-04,a,\n", "PRS07"),
    ],
)
def test_what_is_no_log(read, text, code):
    log, issues = read(text)
    assert log is None
    assert code in codes(issues)


def test_files_that_cannot_be_read(read, tmp_path):
    assert codes(read_pressure_log(tmp_path / "none.csv")[1]) == ["PRS01"]
    assert codes(read_pressure_log(tmp_path)[1]) == ["PRS01"]
    assert codes(read("date,tyre,pressure_kpa\n2026-05-04,däck,240\n", "latin-1")[1]) == ["PRS01"]


def test_unused_columns_are_named(read):
    log, issues = read("date,tyre,pressure_kpa,remark\n2026-05-04,a,240,cold\n")
    assert log is not None
    assert [(issue.code, issue.severity) for issue in issues] == [("PRS08", "note")]
    assert "remark" in issues[0].what


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("any") / "log.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    log, issues = read_pressure_log(path)
    assert (log is None) == bool(codes(issues))


@pytest.mark.parametrize(
    "day",
    ["20260504", "2026-W18-1", "2026-05-041", "2026-05-05 banana", "0001-05-04", "9999-01-01", ""],
)
def test_a_day_that_is_not_clear_is_refused(day, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(f"date,tyre,pressure_kpa\n{day},a,240\n2026-05-05,a,240\n")
    log, issues = read_pressure_log(path)
    assert log is None
    assert [(i.code, i.where) for i in issues] == [("PRS03", "log.csv, line 2")]


def test_a_time_behind_the_day_is_left_out(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("date,tyre,pressure_kpa\n2026-05-04T07:30,a,240\n2026-05-05 07:30:01,a,240\n")
    log, issues = read_pressure_log(path)
    assert issues == []
    assert log is not None
    assert log.day.astype(str).tolist() == ["2026-05-04", "2026-05-05"]


@pytest.mark.parametrize(
    "text",
    [
        'date,tyre,pressure_kpa\n2026-05-04,"rear left,450\n2026-05-05,rear left,200\n',
        'date,tyre,pressure_kpa\n2026-05-04,"a,450\n2026-05-05,"b,200\n',
    ],
)
def test_an_open_quotation_mark_swallows_nothing_in_silence(text, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(text)
    log, issues = read_pressure_log(path)
    assert log is None
    assert [i.code for i in issues] == ["PRS01"]


def test_one_tyre_in_several_spellings_is_one(tmp_path):
    path = tmp_path / "log.csv"
    rows = ["2026-05-04,Rear left,240", "2026-05-05,rear  LEFT ,240", "2026-05-06,rear left,240"]
    path.write_text("date,tyre,pressure_kpa\n" + "\n".join(rows) + "\n")
    log, _ = read_pressure_log(path)
    assert log is not None
    assert log.tyre == ("Rear left",) * 3


def test_more_tyres_than_any_fleet_has_are_refused(tmp_path):
    path = tmp_path / "log.csv"
    rows = [f"2026-05-04,t{k},240" for k in range(MOST_TYRES + 1)]
    path.write_text("date,tyre,pressure_kpa\n" + "\n".join(rows) + "\n")
    log, issues = read_pressure_log(path)
    assert log is None
    assert [i.code for i in issues] == ["PRS03"]
    assert str(MOST_TYRES + 1) in issues[0].what
