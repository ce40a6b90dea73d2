"""Nobody is named in what is published of a drawn program whom its program.yml does not let be named."""

from __future__ import annotations

import re
from collections.abc import Iterator

from tests.drawn_programs.choices import COOPERATORS, CORRECTOR
from tests.drawn_programs.draw import PLACES
from tests.drawn_programs.run_drawn import ALIKE, Said

EXAMPLES = ("dictionary_columns", "dictionary_tables")  # the same for every program


def names(said: Said) -> Iterator[str]:
    allowed = said.drawn.chosen.may_be_named
    persons = tuple(filter(None, (*COOPERATORS, CORRECTOR)))
    hidden = {"cooperator": (), "place only": persons, "nobody": (*persons, *PLACES)}[allowed]
    texts = {name: text for name, text in said.pages.items() if name not in ALIKE}
    texts |= {name: frame.to_csv() for name, frame in said.views.items() if name not in EXAMPLES}
    for name, text in texts.items():
        for each in hidden:
            if re.search(rf"(?<![^\W_]){each}(?![^\W_])", text, re.IGNORECASE):
                yield f"{each} is named in {name}, where program.yml says {allowed}"
