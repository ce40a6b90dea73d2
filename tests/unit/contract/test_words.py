from __future__ import annotations

from pipeline.contract.tables import declared_tables
from pipeline.contract.words import column_words, reference_words


def test_words_kept_by_hand_and_words_of_a_declaration():
    assert reference_words("crops") == ("corn", "soybean", "cotton")
    assert "coated blend" in column_words("treatments", "n_source")
    assert "at planting" in column_words("treatments", "timing")
    assert column_words("treatments", "additive") == ()


def test_every_list_that_a_declaration_names_is_there_once_in_lower_case():
    for table in declared_tables().values():
        for column in table.columns:
            if column.words_from:
                words = column_words(table.name, column.name)
                assert len(words) == len(set(words)) > 0
                assert all(word == word.lower() for word in words)


def test_every_unit_of_a_measurement_is_one_that_some_trait_comes_in(tiny):
    """A unit that none can be converted from would pass the check of words, and its rows would be lost."""
    with tiny.loaded() as warehouse:
        assert set(column_words("measurements", "unit")) == set(warehouse.table("reference.trait_units")["delivered"])
