"""Which trials stand on the same plots: each chain of same_plots_as is named for the first trial on its plots."""

import shutil

import pytest

from tests.tiny_program import TinyProgram

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


@pytest.fixture(scope="module")
def plot_sets(sound_program, tmp_path_factory) -> dict[str, str]:
    """trial_id -> plot_set of one program that holds every case, each with trials of its own: their names end in its
    number.
    """
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("sets") / "program"))
    heads, *rows = tiny.rows("trials")
    drawn = []
    for number, (named, _) in enumerate(LINKS.values()):
        for trial_id, earlier in {"2091-A-corn": "", **named}.items():
            cells = {"trial_id": f"{trial_id} {number}", "season": trial_id[:4]}
            drawn.append([*(cells.get(head, "") for head in heads), f"{earlier} {number}" if earlier else ""])
    tiny.write("trials", [[*heads, "same_plots_as"], *([*row, ""] for row in rows), *drawn])
    with tiny.loaded() as warehouse:
        found = warehouse.read("select trial_id, plot_set from trials.trials where plot_set is not null")
    return dict(zip(found["trial_id"], found["plot_set"], strict=True))


@pytest.mark.parametrize("links", LINKS)
def test_trials_on_the_same_plots_are_one_set(plot_sets, links):
    own = f" {list(LINKS).index(links)}"
    mine = {trial_id: plots for trial_id, plots in plot_sets.items() if trial_id.endswith(own)}
    assert mine == {trial_id + own: plots + own for trial_id, plots in LINKS[links][1].items()}
