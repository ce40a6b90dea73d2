"""A small page that uses everything a report may use, written by each test into its own folder."""

from __future__ import annotations

from pathlib import Path

import matplotlib
import pandas as pd
import pytest

matplotlib.use("Agg")

PAGE = """\
---
title: "Coated blend on corn, season `{python} season`"
subtitle: "Two places"
program: Orrenvale nitrogen trials
provisional: "`{python} f'{n_held} trials are held.'`"
lang: en-US
---

```{python}
#| tags: [parameters]
season = 2093
n_held = 2
```

```{python}
n_gains = len(gains)
```

The blend gained `{python} f"{gains['gain'].mean():.1f}"` bu/ac (@fig-gains, @tbl-gains, @tbl-plots)
and costs $12/ac (0.40 US$/lb) more. The place is `{python} place`.[^1]

[^1]: A footnote.

```{python}
#| output: asis
#| echo: false
import matplotlib.pyplot as plt
figure, axes = plt.subplots(figsize=(6.5, 2))
axes.plot(gains["gain"], range(len(gains)), "o", color="black")
figure.savefig(page_folder / "gains.png", dpi=50)
plt.close(figure)
alt = 'Two dots, both \\\\"right\\\\" of zero.'
print('![Gain by *site-year*.](gains.png){#fig-gains fig-alt="' + alt + '" width=6.5in}')
```

## Where it works

```{python}
#| output: asis
print("| Site-year | Gain, bu/ac |\\n|:--|--:|")
for row in gains.itertuples():
    print(f"| {row.site} | {row.gain:.1f} |")
print("\\n: Gains. {#tbl-gains}")
```

::: {.callout-note title="What we did not test"}
Sandy soils.
:::

::: {.callout-warning}
Follow local codes.
:::

::: {.content-visible when-format="html"}
Only on the screen.
:::

::: {.content-visible when-format="pdf"}
Only on paper.
:::

::: {.content-hidden when-format="pdf"}
Hidden on paper.
:::

```{=html}
<p>Raw HTML.</p>
```

```{=typst}
#text(fill: luma(80))[Raw typst.]
```

### Every plot

```{python}
#| output: asis
print("| Plot | Yield, bu/ac |\\n|:--|--:|")
for plot in range(90):
    print(f"| P{plot:03d} | {200 + plot / 10:.1f} |")
print("\\n: Plots. {#tbl-plots}")
```
"""

ODD_PLACE = "A_b*c* <x> $5$ @fig-q [z](y) 1~2^ `d` {e} \\f #g |h|"


@pytest.fixture
def gains() -> pd.DataFrame:
    return pd.DataFrame({"site": ["Dunnavel 2091", "Quillmoor 2092"], "gain": [4.0, 6.0]})


@pytest.fixture
def full_page(tmp_path: Path) -> Path:
    """The page's source, with its set-up file beside it."""
    folder = tmp_path / "source"
    folder.mkdir()
    (folder / "full.qmd").write_text(PAGE, encoding="utf-8")
    return folder / "full.qmd"


@pytest.fixture
def woven(full_page: Path, gains: pd.DataFrame, tmp_path: Path) -> Path:
    from pipeline.publishing.weave import weave

    names = {"gains": gains, "place": ODD_PLACE}
    return weave(full_page, parameters={"season": 2094}, names=names, folder=tmp_path / "woven")
