"""Which trials stand on the same plots: each chain of same_plots_as is named for the first trial on its plots."""

import pytest

LINKS = {
    "none": ({"2092-A-corn": "", "2093-A-corn": ""}, {}),
    "a chain": (
        {"2092-A-corn": "2091-A-corn", "2093-A-corn": "2092-A-corn"},
        {"2091-A-corn": "2091-A-corn", "2092-A-corn": "2091-A-corn", "2093-A-corn": "2091-A-corn"},
    ),
    "two on the plots of one": (
        {"2092-A-corn": "2091-A-corn", "2093-A-corn": "2091-A-corn"},
        {"2091-A-corn": "2091-A-corn", "2092-A-corn": "2091-A-corn", "2093-A-corn": "2091-A-corn"},
    ),
    "a first trial that was not delivered": (
        {"2092-A-corn": "2080-A-corn", "2093-A-corn": "2080-A-corn"},
        {"2092-A-corn": "2080-A-corn", "2093-A-corn": "2080-A-corn"},
    ),
    "names that go round": (
        {"2092-A-corn": "2093-A-corn", "2093-A-corn": "2092-A-corn"},
        {"2092-A-corn": "2092-A-corn", "2093-A-corn": "2092-A-corn"},
    ),
}


@pytest.mark.parametrize("links", LINKS)
def test_trials_on_the_same_plots_are_one_set(tiny, links):
    named, expected = LINKS[links]
    heads, *rows = tiny.rows("trials")
    cells = [{"trial_id": trial_id, "season": trial_id[:4]} for trial_id in named]
    later = [[*(cell.get(head, "") for head in heads), named[cell["trial_id"]]] for cell in cells]
    tiny.write("trials", [[*heads, "same_plots_as"], *([*row, ""] for row in rows), *later])
    with tiny.loaded() as warehouse:
        rows = warehouse.read("select trial_id, plot_set from trials.trials where plot_set is not null")
    assert dict(zip(rows["trial_id"], rows["plot_set"], strict=True)) == expected
