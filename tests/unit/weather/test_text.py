import numpy as np
import pytest

from bedtide.errors import FileError
from bedtide.weather.layouts import PLAIN, header_names
from bedtide.weather.text import decode, numbers, split_table, unpacked


def table_of(data):
    """The table whose header is on the first line."""
    text = decode(data, "g.csv")
    return split_table(text, header_names(text, 0, ",", PLAIN), 1, ",")


def read(*values, **options):
    lines = np.arange(2, 2 + len(values))
    found, errors, traces = numbers({"rain": values}, lines, source="garden.csv", **options)
    return found["rain"], errors, traces


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_byte_order_mark(end, mark):
    text = decode(mark + end.join(["a,b", "1,2", ""]).encode(), "garden.csv")
    assert text.lines == ["a,b", "1,2"]
    assert text.whole


def test_latin_1_and_utf_16():
    assert decode("Tmax (°C)\n".encode("latin-1"), "x").lines == ["Tmax (°C)"]
    assert decode("Tmax (°C)\n".encode("utf-16"), "x").lines == ["Tmax (°C)"]


@pytest.mark.parametrize("data", [b"", b"  \n \n", b"PK\x00\x01\x02", b"\xff\xfe\x00\xd8\x00"])
def test_what_is_no_text_is_refused(data):
    with pytest.raises(FileError):
        decode(data, "garden.csv")


def test_a_table_whose_first_column_is_pk_is_no_zip_file():
    data = b"PK,date\n1,2021-01-01\n"
    assert unpacked(data, "garden.csv") == data


def test_missing_words_and_traces():
    values, errors, traces = read("1.5", "", "NA", "---", "T", "0", traces=["rain"])
    np.testing.assert_array_equal(values, [1.5, np.nan, np.nan, np.nan, 0.0, 0.0])
    assert errors == []
    assert traces == 1


@pytest.mark.parametrize(
    ("texts", "expected"),
    [(("1,5", "12,25", "3"), [1.5, 12.25, 3.0]), (("0,125", "-0,250"), [0.125, -0.25])],
)
def test_decimal_comma_where_certain(texts, expected):
    values, errors, _ = read(*texts)
    np.testing.assert_array_equal(values, expected)
    assert errors == []


@pytest.mark.parametrize(
    "texts", [("1,234", "2,345"), ("1,5", "2.5"), ("1,234.5", "1"), ("1.234,5", "1")]
)
def test_uncertain_commas_are_refused(texts):
    _, errors, _ = read(*texts)
    assert "is not a number" in errors[0].text
    assert 'decimal=","' in errors[0].text


def test_declared_comma():
    values, errors, _ = read("1,234", "2", decimal=",")
    np.testing.assert_array_equal(values, [1.234, 2.0])
    assert errors == []


@pytest.mark.parametrize("text", ["inf", "1e400", "0x1A", "1 2", "abc", "1_000", "١"])
def test_odd_numbers_are_named_with_their_lines(text):
    _, errors, _ = read("1", text, "2", text)
    assert "garden.csv, line 3, column rain" in errors[0].text
    assert "also line 5" in errors[0].text


def test_declared_sentinel_counts_as_missing_in_any_spelling():
    values, errors, _ = read("-9999", "-9999.0", "2", missing={"rain": ["-9999"]})
    np.testing.assert_array_equal(values, [np.nan, np.nan, 2.0])
    assert errors == []


def test_ragged_rows_are_named():
    table = table_of(b"date,rain\n2021-01-01,1\n2021-01-02\n2021-01-03,1,2\n2021-01-04,1\n")
    assert table.lines.tolist() == [2, 5]
    assert [error.where for error in table.errors] == ["g.csv, line 3", "g.csv, line 4"]


def test_quotes_blank_lines_comments_and_a_second_header():
    table = table_of(b'date,rain\n"2021-01-01", 1\n\n# note\ndate,rain\n2021-01-02,2\n')
    assert table.columns[1] == ["1", "2"]
    assert table.lines.tolist() == [2, 6]
    assert "came again" in table.notes[0]


def test_an_open_quote_is_named():
    with pytest.raises(FileError) as caught:
        table_of(b'date,rain\n2021-01-01,1\n2021-01-02,"2\n2021-01-03,1\n')
    assert "line 3" in caught.value.where


@pytest.mark.parametrize(
    ("last", "kept"),
    [("3.5", True), ("3.", False), ("3", False), ("12", False), ("", False), ('"3.5"', True)],
)
def test_a_last_line_without_end_is_kept_only_where_it_is_seen_to_be_whole(last, kept):
    table = table_of(f"date,rain\n2021-01-01,1.0\n2021-01-02,2.0\n2021-01-03,{last}".encode())
    assert len(table.lines) == (3 if kept else 2)
    assert any("cut short" in note for note in table.notes) is not kept


@pytest.mark.parametrize(
    ("others", "last", "kept"),
    [
        ("10", "25", 2),  # the common length
        ("10", "2", 1),
        ("0", "0", 2),
        ("sun", "rain", 1),  # "rainy" may have been meant
        ("rain", "sun\n2021-01-02,rain", 3),
    ],
)
def test_a_last_field_that_is_no_decimal_is_whole_by_its_length_or_its_word(others, last, kept):
    assert (
        len(table_of(f"date,rain\n2021-01-01,{others}\n2021-01-02,{last}".encode()).lines) == kept
    )


def test_a_last_line_without_its_last_fields_is_left_out_with_a_note():
    table = table_of(b"date,tmax,rain\n2021-01-01,1,2.0\n2021-01-02,2")
    assert (len(table.lines), table.errors) == (1, [])
    assert "may have been cut short" in table.notes[0]


def test_blank_fields_at_the_end_are_passed_over_where_every_row_has_them():
    assert table_of(b"date,rain\n2021-01-01,1,,\n2021-01-02,2,,\n").columns[1] == ["1", "2"]
    table = table_of(b"date,rain\n2021-01-01,1\n2021-01-02,,2,\n2021-01-03,,\n")
    assert "line 3" in table.errors[0].where


def test_a_second_header_with_blank_names_at_its_end():
    table = table_of(b"date,rain,\n2021-01-01,1,\ndate,rain,\n2021-01-02,2,\n")
    assert (table.columns[1], table.errors) == (["1", "2"], [])
    assert "came again once in " in table.notes[0]
