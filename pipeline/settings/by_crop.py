"""Sections whose keys are crops."""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import partial
from typing import TypeVar

import yaml

from pipeline.errors import one_of
from pipeline.settings.file import Section
from pipeline.settings.mistakes import all_of

T = TypeVar("T")


def read_by_crop(section: Section, known_crops: Collection[str], read: Callable[[Section], T]) -> dict[str, T]:
    """What stands under each crop, as `read` makes it of its section. UserError names every mistake, and crops not
    known.
    """

    def of(crop: str, node: yaml.Node) -> T:
        if crop not in known_crops:
            raise section.error(f'"{crop}" is no crop known here: {one_of(list(known_crops), crop)}', node)
        return read(section.take_section(crop))

    entries = section.take_each()
    return dict(zip((crop for crop, _ in entries), all_of(partial(of, *entry) for entry in entries), strict=True))
