"""Which words of a text are taken for a name."""

from __future__ import annotations

import pytest

from pipeline.publishing.names_in_texts import carrying, replacing, surnames


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("Anna Quist", "Anna Quist drove over it", "* drove over it"),
        ("Anna Quist", "ANNA  QUIST, anna_quist, Anna\nQuist", "*, *, *"),
        ("Anna Quist", "Joanna Quist and Anna Quistgaard", "Joanna Quist and Anna Quistgaard"),
        ("May", "May said it may rain; MAY too", "* said it may rain; * too"),
        ("coop-07", "from COOP 07 and coop-077", "from * and coop-077"),
        ("O'Drel", "o'drel's plots", "*'s plots"),
        ("Bo", "Bo drove over it", "* drove over it"),
        ("7", "7 plots of 7", "7 plots of 7"),
        ("A", "A plot", "A plot"),
        ("dry", "a dry class", "a dry class"),
        ("Normal", "Normal gets normal rain", "* gets normal rain"),
        ("a.b (c)", "seen by a.b (c).", "seen by *)."),
        ("\u00d6berg", "O\u0308berg drove over it", "* drove over it"),
        ("O\u0308berg", "\u00d6berg and \u00d6BERG", "* and *"),
        ("Ali Y\u0131ld\u0131z", "ALI YILDIZ, Ali Y\u0131ld\u0131z", "*, *"),
        ("Ali \u0130ri", "ali iri", "*"),
    ],
)
def test_a_name_is_found_as_whole_words(name, text, said):
    assert replacing({name: "*"}, own={"dry", "normal"})(text) == said


def test_of_two_names_the_longer_is_found():
    said = replacing({"Alder": "Place 01", "Alder Bench": "Site 02"}, own=())
    assert said("Alder Bench at Alder") == "Site 02 at Place 01"


@pytest.mark.parametrize(
    ("name", "last"),
    [
        ("Anna Quist", "Quist"),
        ("Quist, Anna", "Quist"),
        ("Anna Quist Jr.", "Quist"),
        ("Quist Farms LLC", "Quist"),
        ("Quist Brothers", "Quist"),
        ("Quist & Sons", "Quist"),
        ("Anna Quist and Jon Holm", "Quist Holm"),
        ("Quist, Anna; Holm, Jon", "Quist Holm"),
        ("Anna Quist, Jon Holm", "Quist Holm"),
        ("Anna Quist-Holm", "Quist-Holm Quist Holm"),
        ("Anna O\u0308berg", "\u00d6berg"),
        ("Sandy Brandt", "Brandt"),
        ("Anna Lee", "Lee"),
        ("North Station", ""),
        ("Quist", ""),
        ("coop-07", ""),
        ("anna quist", ""),
        ("", ""),
    ],
)
def test_the_surnames_of_a_name(name, last):
    assert surnames(name) == set(last.split())


def test_a_file_carries_a_name_in_any_capitals():
    carries = carrying(["Quist", "dry"], own={"dry"})
    assert carries("plots_QUIST_2091") and carries("quist") and not carries("quistgaard dry")


def test_a_file_carries_a_name_whose_letters_are_stored_as_two_signs():
    assert carrying(["\u00d6berg"], own=())("plots_o\u0308berg")
