import numpy as np
import pandas as pd

from pipeline.estimates.frames import groups


def test_groups_give_what_groupby_gives():
    rng = np.random.default_rng(7)
    frame = pd.DataFrame(
        {
            "crop": rng.choice(["corn", "cotton", None], 200),
            "season": rng.choice([2091.0, 2092.0, np.nan], 200),
            "row": range(200),
        }
    )
    told = [group["row"].tolist() for group in groups(frame, ["crop", "season"])]
    assert told == [group["row"].to_list() for _, group in frame.groupby(["crop", "season"])]
    assert 0 < sum(map(len, told)) < 200  # rows without a key are in no group


def test_no_rows_are_no_groups():
    assert list(groups(pd.DataFrame({"crop": [], "gain": []}), ["crop"])) == []
    assert list(groups(pd.DataFrame({"crop": [None], "gain": [1.0]}), ["crop"])) == []
