"""How a long run is told: a share, and about the time still to go."""

from __future__ import annotations

import re

from pipeline import progress
from pipeline.incoming.readers import read_file
from pipeline.steps import loading


def test_a_bar_tells_how_far_it_is_and_how_long_it_still_takes(clock):
    said = []
    bar = progress.Bar(said.append, "reading plots.csv")
    clock(0.4)
    bar(0.1)
    assert said == [], "a short step says nothing"
    clock(10)
    bar(0.25)
    bar(0.26)
    clock(30)
    bar(0.75)
    assert said == [
        "reading plots.csv ━━━━━╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌ 25%, about 30 s to go",
        "reading plots.csv ━━━━━━━━━━━━━━━╌╌╌╌╌ 75%, about 10 s to go",
    ]


def test_plain_lines_count_the_seconds_from_where_they_begin(clock):
    said = []
    clock(100)
    tell = progress.NowAndThen(said.append)
    for seconds, text in ((104, "a"), (105, "b"), (109, "c"), (110, "d")):
        clock(seconds)
        tell(text)
    assert said == ["5 s: b", "10 s: d"]


def test_more_than_all_is_not_told(clock):
    said = []
    bar = progress.Bar(said.append, "reading")
    for seconds, share in ((10, 0.0), (20, 1.01), (30, 1.0)):
        clock(seconds)
        bar(share)
    (all_of_it,) = said
    assert all_of_it.endswith(" 100%, about 0 s to go")


def test_no_time_is_promised_from_the_first_few_percent():
    assert progress.how_far("writing corn", 0.02, 10).endswith(" 2%")
    assert progress.how_far("writing corn", 0.05, 10).endswith(" 5%, about 190 s to go")


def test_steps_are_counted_once_what_starts_only_once_stands(clock):
    said = []
    steps = progress.Steps(said.append, 4, warming_up=1)
    for seconds, text in ((0, "starting R"), (20, "a"), (30, "b"), (40, "c"), (55, "d"), (60, "one more")):
        clock(seconds)
        steps(text)
    assert [re.sub("[\u2501\u254c]+ ", "", line) for line in said] == [
        "starting R 0%",
        "a 0%",
        "b 25%, about 30 s to go",
        "c 50%, about 20 s to go",
        "d 75%, about 12 s to go",
        "one more 100%, about 0 s to go",
    ]


def test_a_long_file_tells_the_share_that_was_read(tmp_path):
    path = tmp_path / "plots.csv"
    path.write_text("trial_id,block,plot,treatment_code,outcome\n" + "a,1,101,U,harvested\n" * 5000)
    shares = []
    read_file(path, name="plots.csv", progress=shares.append)
    assert len(shares) >= 4 and shares == sorted(shares)
    assert 0 < shares[0] < 0.5 and shares[-1] == 1.0


def test_checking_tells_the_share_of_its_steps(tiny, monkeypatch):
    shares = []
    monkeypatch.setattr(
        loading, "Bar", lambda tell, what: shares.append if what == "checking every row" else lambda share: None
    )
    tiny.load()
    assert len(shares) > 100 and shares == sorted(shares)
    assert shares[0] == 0 and 0.99 < shares[-1] < 1
