"""Every way a settings file can be wrong is said with its line; nothing is guessed from it."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.errors import UserError
from pipeline.settings.file import (
    above_zero,
    count,
    day,
    filled,
    known_word,
    month_day,
    number,
    read_settings,
    word_of,
    year,
)


def section(tmp_path, text: str | bytes):
    path = tmp_path / "program.yml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_settings(path)


def refusal(call) -> str:
    with pytest.raises(UserError) as problem:
        call()
    return str(problem.value)


def test_a_missing_file_says_what_is_needed(tmp_path):
    assert "program.yml is not there" in refusal(lambda: read_settings(tmp_path / "program.yml"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", 'must hold "name: value" entries'),
        ("# only a comment\n", 'must hold "name: value" entries'),
        ("just words\n", 'must hold "name: value" entries'),
        ("- a\n- b\n", 'must hold "name: value" entries'),
        ("a: 1\n\tb: 2\n", "line 2: a tab; begin the line with spaces"),
        ("a: 1\nb: [1, 2\n", "line 2: a { or [ is not closed"),
        ("a: {b: 1\nc: 2\n", "line 1: a { or [ is not closed, or a comma is missing"),
        ("a: 1\nb: c: d\n", "line 2: a colon too many"),
        ('a: 1\nb: "open\nc: 2\n', "line 2: a quotation mark is not closed"),
        ("a: 1\n b: 2\n", "line 2: a colon too many, or a line that begins too far right"),
        ("a:\n  b: 1\n c: 2\n", "line 3: the line does not begin in the same column"),
        ("a: 'it's'\n", "a quotation mark is out of place"),
        ("a: 1\nb 2\nc: 3\n", "line 2: no colon after the name"),
        ("a: 1\nb: @c\n", "line 2: a text begins with a sign that must stand in quotes"),
        ("a: 1\n---\nb: 2\n", "line 2: but found another document"),
        ("a: 1\nb: 2\na: 3\n", 'line 3: "a" stands here twice; keep one'),
        ("a: {b: 1}\na: {c: 2}\n", 'line 2: "a" stands here twice; keep one, with the entries of both'),
        ("[a, b]: 1\n", "line 1: a name before a colon must be one word"),
        ("a: 1\nb: \x07\n", "line 2: a character that cannot be seen (U+0007); delete it"),
        (b"a: caf\xe9\n", "line 1: not UTF-8 text"),
        ("a: 1\n".encode("utf-16"), "line 1: not UTF-8 text"),
        ("a: *unknown\n", "line 1: found undefined alias"),
    ],
)
def test_what_is_no_settings_file(tmp_path, text, says):
    message = refusal(lambda: section(tmp_path, text))
    assert "program.yml" in message and says in message


def test_a_byte_order_mark_is_no_part_of_the_first_name(tmp_path):
    assert section(tmp_path, "\ufeffa: 1\n").take("a", str) == "1"


def test_scalars_stay_text_until_they_are_cast(tmp_path):
    file = section(tmp_path, "a: no\nb: 12:30\nc: 007\nd: 2090-11-15\n")
    assert [file.take(key, str) for key in "abcd"] == ["no", "12:30", "007", "2090-11-15"]


@pytest.mark.parametrize(
    ("text", "take", "says"),
    [
        (
            "prise: 1\n",
            lambda f: f.take("price", str),
            'line 1: "price" is missing in "program.yml" (is it "prise" in line 1?)',
        ),
        ("a: 1\nc: 2\n", lambda f: f.take("b", str), 'line 1: "b" is missing in "program.yml"'),
        ("a: 1\nb:\n  c: 2\n", lambda f: f.take_section("b").take("d", str), 'line 3: "d" is missing in "b"'),
        ("a: 1\nb: [1]\n", lambda f: f.take("b", str), 'line 2: "b" must be a single value'),
        ("a: 1\nb:\n", lambda f: f.take("b", str), 'line 2: "b" is empty'),
        ('a: 1\nb: "  "\n', lambda f: f.take("b", filled), 'line 2: "b" is "  "; expected some words'),
        ("a: 1\nb: x\n", lambda f: f.take("b", number), 'line 2: "b" is "x"; expected a number'),
        ("a: 1\nb: 2\n", lambda f: f.take_list("b", str), 'line 2: "b" must be a list: [a, b]'),
        ("a: 1\nb: [1, [2]]\n", lambda f: f.take_list("b", str), 'line 2: "b" must hold single values'),
        ("a: 1\nb:\n  - 1\n  - x\n", lambda f: f.take_list("b", number), 'line 4: "b" is "x"; expected a number'),
        ("a: 1\nb: 2\n", lambda f: f.take_section("b"), 'line 2: "b" must hold "name: value" entries'),
        (
            "a: 1\nb: 2\n",
            lambda f: f.take_sections("b"),
            'line 2: "b" must be a list of entries, each beginning with "-"',
        ),
        (
            "a: 1\nb: [1]\n",
            lambda f: f.take_sections("b"),
            'line 2: "b" must be a list of entries, each beginning with "-"',
        ),
        ("a: 1\nb: {}\n", lambda f: f.take_section("b").take_each_as(number, number), 'line 2: "b" is empty'),
        (
            "a: 1\nb: {x: 2}\n",
            lambda f: f.take_section("b").take_each_as(number, number),
            'line 2: "b: x" is "x"; expected a number',
        ),
        (
            "a: 1\nb: {1: x}\n",
            lambda f: f.take_section("b").take_each_as(number, number),
            'line 2: "1" is "x"; expected a number',
        ),
        ("a: 1\nb: {c: []}\n", lambda f: f.values("b", f._nodes["b"]), 'line 2: "b" must be a word or a list of words'),
        ("a: 1\nb: []\n", lambda f: f.values("b", f._nodes["b"]), 'line 2: "b" must be a word or a list of words'),
    ],
)
def test_a_wrong_entry_is_named_with_its_line(tmp_path, text, take, says):
    assert says in refusal(lambda: take(section(tmp_path, text)))


def test_an_empty_text_in_quotes_is_meant(tmp_path):
    assert section(tmp_path, 'old: ""\n').take("old", str) == ""


def test_a_name_nobody_asked_for_is_a_typo(tmp_path):
    file = section(tmp_path, "display_units: us\n\ndisplay_unit: us\n")
    file.take("display_units", str)
    assert (
        refusal(file.done)
        == 'program.yml, line 3: "display_unit" is not known in "program.yml": did you mean "display_units"?'
    )


def test_what_may_be_left_out_has_its_default(tmp_path):
    file = section(tmp_path, "a: 1\n")
    assert file.take("b", number, 2.0) == 2.0
    assert file.take_list("b", number, ()) == ()
    assert file.take_section("b", None) is None and file.take_sections("b") == []


@pytest.mark.parametrize(
    ("cast", "text", "value"),
    [
        (number, "-1.5", -1.5),
        (above_zero, "0.1", 0.1),
        (count, "0", 0),
        (year, "2061", 2061),
        (day, "2090-11-15", date(2090, 11, 15)),
        (month_day, "02-28", "02-28"),
        (word_of("us", "metric"), "us", "us"),
        (known_word("at planting"), "At planting", "at planting"),
    ],
)
def test_a_cast_gives_the_value(cast, text, value):
    assert cast(text) == value


@pytest.mark.parametrize(
    ("cast", "text"),
    [
        *((number, text) for text in ("x", "1,5", "nan", "inf", "1e999", "12 lb")),
        *((above_zero, text) for text in ("0", "-1", "nan")),
        *((count, text) for text in ("-1", "1.5", "1e2", "", "1_0", "9999999")),
        *((year, text) for text in ("61", "20611", "0000", "1.5", "MMLXI")),
        *(
            (day, text)
            for text in ("2090-13-01", "2090-02-30", "11/15/2090", "15.11.2090", "2090", "yesterday", "2090-W03-1")
        ),
        *((month_day, text) for text in ("5-1", "02-29", "13-01", "05-32", "W05-1", "0501", "May 1")),
        *((word_of("us", "metric"), text) for text in ("uss", "US", "")),
    ],
)
def test_a_cast_refuses_nonsense(cast, text):
    with pytest.raises(ValueError):
        cast(text)


def test_a_wrong_word_is_answered_with_the_known_ones():
    with pytest.raises(ValueError, match=r'one of: us, metric \(did you mean "metric"\?\)'):
        word_of("us", "metric")("metrik")


def test_a_mistake_names_the_file_as_it_is_called_in_the_program(tmp_path):
    path = tmp_path / "headings.yml"
    for text, line in (("tables: [", 1), ("tables: {x: 1}\ntables: {}\n", 2)):
        path.write_text(text)
        said = refusal(lambda: read_settings(path, name="seasons/2091/coop-01/headings.yml"))
        assert said.startswith(f"seasons/2091/coop-01/headings.yml, line {line}: ")


def test_brackets_without_end_are_refused(tmp_path):
    (tmp_path / "program.yml").write_text("a: " + "[" * 5000)
    with pytest.raises(UserError, match="program.yml: lists or sections are nested too deeply"):
        read_settings(tmp_path / "program.yml")
