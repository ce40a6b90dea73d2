import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.n_response import optimum
from pipeline.estimates.n_response.clusters import mean_interval, with_clusters
from pipeline.estimates.n_response.estimate_n_response import estimate_n_response
from pipeline.estimates.n_response.ladders import ladder_plots, ladders, rate_means
from pipeline.estimates.n_response.pooled_curves import pooled_fit, pooled_rows, usable_means
from pipeline.estimates.n_response.rate_losses import rate_losses


def rows_of(*rows):
    return pd.DataFrame(rows, columns=["crop", "site_year_id", "trial_id"])


def test_site_years_that_share_plots_are_one_cluster():
    rows = rows_of(
        ("corn", "s1", "a"),
        ("corn", "s2", "b"),
        ("corn", "s2", "c"),
        ("corn", "s3", "d"),
        ("corn", "s4", "e"),
        ("cotton", "s4", "f"),
    )
    trials = pd.DataFrame({"trial_id": list("abcdef"), "plot_set": ["a", "a", "c", "c", "e", "a"]})
    found = with_clusters(rows, trials)
    assert found.groupby("crop")["cluster"].nunique().to_dict() == {"corn": 2, "cotton": 1}
    assert found.loc[found["site_year_id"].isin(["s1", "s2", "s3"]), "cluster"].nunique() == 1  # a joins b, c joins d
    assert found.index.equals(rows.index)


def test_without_known_plot_sets_a_site_year_is_its_own_cluster():
    rows = rows_of(("corn", "s1", "a"), ("corn", "s2", "b"))
    assert list(with_clusters(rows, pd.DataFrame({"trial_id": ["a", "b"]}))["cluster"]) == ["s1", "s2"]


def seen_twice(make, n_site_years):
    """Usable means of a program, and of one whose plots give the very same yields in a second season."""
    trials, treatments, plots, _ = make.program(3, n_site_years=n_site_years, slope_sd=20.0)
    trials = trials.assign(plot_set=trials["trial_id"])
    means = usable_means(rate_means(ladders(ladder_plots(plots, treatments, trials))))
    again = {name: means[name] + "-2" for name in ("site_year_id", "trial_id")}
    second = trials.assign(trial_id=trials["trial_id"] + "-2")
    both = pd.concat([means, means.assign(**again)], ignore_index=True)
    return with_clusters(means, trials), with_clusters(both, pd.concat([trials, second]))


def test_plots_seen_twice_tell_no_more_of_the_economic_optimum(make):
    once, twice = (pooled_fit(means, conf_level=0.95) for means in seen_twice(make, 8))
    for rows in (pooled_rows, rate_losses):
        one, two = (pd.DataFrame(rows(fit, 6.0, conf_level=0.95)) for fit in (once, twice))
        same = one.columns[one.columns.str.contains("eonr|aonr|conf_l|conf_h|loss")]
        assert len(same) >= 3
        np.testing.assert_allclose(
            two[same].astype(float), one[same].astype(float), rtol=1e-6
        )  # the optimizer stops within this
    assert (len(twice.site_years), len(twice.clusters)) == (16, 8)


def test_six_site_years_on_three_sets_of_plots_have_no_interval_and_say_why(make):
    _, twice = seen_twice(make, 3)
    row = pooled_rows(pooled_fit(twice, conf_level=0.95), 6.0, conf_level=0.95)[0]
    assert row["n_site_years"] == 6 and row["eonr"] and row.get("eonr_low") is None and row["interval_method"] is None
    assert row["warnings"] == "fewer than 6 site-years on plots of their own: no interval"


def test_mean_of_values_seen_twice_has_the_interval_of_those_seen_once():
    rng = np.random.default_rng(1)
    once = pd.DataFrame({"site_year_id": list("abcde"), "cluster": list("abcde"), "v": rng.normal(9, 2, 5)})
    twice = pd.concat([once, once.assign(site_year_id=once["site_year_id"] + "2")])
    one, two = (mean_interval(rows, "v", 0.95) for rows in (once, twice))
    assert (one.pop("n_site_years"), two.pop("n_site_years")) == (5, 10)
    assert two == pytest.approx(one) and one["df"] == pytest.approx(4)


def test_trials_linked_by_plots_reach_every_table(make):
    """Optima of trials, efficiencies and N saved take them as one too: five sites of a program come back on their
    plots.
    """
    trials, treatments, plots, arms = make.program(5, n_site_years=10, joins={make.UREA: 160.0, make.BLEND: 120.0})
    sets = trials["trial_id"].str[1:].astype(int) % 5
    linked = estimate_n_response(
        trials.assign(plot_set="set-" + sets.astype(str)), treatments, plots, arms, make.sources()
    )
    free = estimate_n_response(trials, treatments, plots, arms, make.sources())
    assert linked["nitrogen_saved"]["warnings"].str.contains("plots of their own").any()
    assert not free["nitrogen_saved"]["warnings"].str.contains("no interval").any()
    assert (linked["efficiencies"]["df"] < free["efficiencies"]["df"]).all()
    both = linked["site_year_optima"]["eonr_low"], free["site_year_optima"]["eonr_low"]
    assert all(bounds.notna().any() for bounds in both) and not both[0].equals(both[1])


@pytest.mark.parametrize(
    ("rises", "clusters", "flag"),
    [
        ((10, 10, 20, 20), "abcd", optimum.FOUND),  # 15 +- 3.18 x 2.89 (t on 3 df)
        ((10, 10, 20, 20), "aabb", optimum.NO_RESPONSE),  # 15 +- 12.7 x 5 (t on 1 df)
        ((10, 10, 20, 20), "aaaa", optimum.FOUND),  # one set of plots: what its seasons show
        ((10, -10, 20, -19), "aaaa", optimum.NO_RESPONSE),
        ((-10, -10, -20, -20), "abcd", optimum.NEGATIVE),
    ],
)
def test_a_response_is_judged_by_sets_of_plots_or_in_one_set_by_its_seasons(rises, clusters, flag):
    means = pd.DataFrame(
        {"crop": "corn", "family": "urea", "site_year_id": f"s{i}", "trial_id": f"s{i}", "variant": "", "n_plots": 4,
         "n_rate_kg_ha": rate, "mean": 5000.0 + (rise if rate else 0), "cluster": cluster}
        for i, (rise, cluster) in enumerate(zip(rises, clusters, strict=True)) for rate in (0.0, 60.0, 120.0, 180.0)
    )  # fmt: skip
    assert pooled_fit(means, conf_level=0.95).flag == flag
