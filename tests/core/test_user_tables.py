"""One reader for the tables a user keeps: encodings, separators, numbers, slips, places."""

from __future__ import annotations

import pandas as pd
import pytest
from reading_kit import workbook

import gradekit as gk
from gradekit.core.numbers import TwoWays, column_sign, number_of
from gradekit.core.reader import decoded, split_lines
from gradekit.core.usertable import read_number
from gradekit.heats.scatter import as_scatter
from gradekit.works.melt.price_book import as_price_book, as_recoveries
from gradekit.works.plant import as_plant

PRICES = [
    ["element", "price_crown_per_t", "recovery", "date", "note"],
    ["Fe", "420", "0.96", "2026-10-01", "invented"],
    ["Ni", "21000", "0.98", "2026-10-01", ""],
]


def write(rows, delimiter=",", comma=False) -> str:
    point = "," if comma else "."
    return "\n".join(delimiter.join(c.replace(".", point) for c in row) for row in rows) + "\n"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("18.12", 18.12),
        ("18,12", 18.12),
        ("0,050", 0.05),
        ("1.234,5", 1234.5),
        ("1,234,567", 1234567),
        ("1 200", 1200),
        ("1'200.5", 1200.5),
        ("1\u00a0200,25", 1200.25),
        ("\u22123", -3),
        ("1,500e3", 1500),
        (".5", 0.5),
        ("1234,567", 1234.567),
    ],
)
def test_a_clear_number_is_read(text, value):
    assert number_of(text) == value


@pytest.mark.parametrize("text", ["1,2,3", "1.23.456", "12 34", "1 2345", "", "x", "1.", "12,34.5"])
def test_what_is_no_number(text):
    if text == "1.":
        assert number_of(text) == 1
    else:
        with pytest.raises(ValueError):
            number_of(text)


def test_three_digits_are_decided_by_the_column_or_refused():
    with pytest.raises(TwoWays):
        number_of("1,700")
    assert number_of("1,700", ".") == 1700 and number_of("1,700", ",") == 1.7
    assert number_of("17.200", most=100) == 17.2
    assert column_sign(["1,700", "0,5"]) == "," and column_sign(["0,5", "0.5"]) == ""


def test_two_readings_are_told_in_whatever_digits_they_are_typed():
    for text in ("1,700", "１，７００"):
        with pytest.raises(gk.InputError, match=r"nearest 1\.7 or 1700"):
            read_number(text, "price of Ni", "a number")


def test_nothing_is_nearest_to_nothing():
    for given in ("", " "):
        with pytest.raises(gk.InputError) as caught:
            as_scatter({given: 0.1})
        assert str(caught.value) == (
            f"scatter, element · must be a chemical symbol such as Cr · got {given!r}"
        )


def test_what_is_no_number_has_no_decimal_sign():
    assert column_sign(["5.3, 6", "30.11,26", "1,234.5,6", "0,5"]) == ","
    assert column_sign(["5.3, 6", "12 2.5"]) == ""


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_a_price_list_in_any_dialect_is_the_same(tmp_path, encoding, delimiter):
    file = tmp_path / "prices.csv"
    text = "# prices of Öre\n" + write(PRICES, delimiter, comma=delimiter != ",")
    file.write_bytes(text.encode(encoding))
    prices = gk.read_prices(file)
    assert prices.table["price"].to_dict() == {"Fe": 420, "Ni": 21000}
    assert prices.table["recovery"].to_dict() == {"Fe": 0.96, "Ni": 0.98} and prices.invented


def test_a_workbook_is_read_as_a_text_is(tmp_path):
    (tmp_path / "prices.xlsx").write_bytes(workbook([["Prices of the works"], [], *PRICES]))
    assert gk.read_prices(tmp_path / "prices.xlsx").table.at["Ni", "price"] == 21000


@pytest.mark.parametrize("price", ["21,000", "21.000"])
def test_a_price_with_thousands_is_decided_or_refused_and_never_21(tmp_path, price):
    file = tmp_path / "prices.csv"
    rows = [PRICES[0], [*PRICES[1]], ["Ni", price, "0.98", "2026-10-01", ""]]
    file.write_text(write(rows, ";"))
    if "," in price:
        prices = gk.read_prices(file)
        assert prices.table.at["Ni", "price"] == 21000
        assert "'21,000' is read as 21000" in prices.remarks[0]
        assert "21,000" in prices._repr_html_()
    else:
        with pytest.raises(gk.InputError, match=r"prices.csv, row 3, column B, price of Ni .*way"):
            gk.read_prices(file)


def test_the_plant_is_one_table_for_limits_and_scatter(tmp_path):
    file = tmp_path / "plant.csv"
    file.write_bytes(
        "# Werk;;;\nstep;parameter;value;unit\ncaster;pressure;1,5;atm\nscatter;Cr;0,12;wt%\n"
        "eaf;width;1.250,5;mm\n".encode("utf-16")
    )
    assert gk.read_plant(file).get("caster.pressure", "atm") == 1.5
    assert gk.read_plant(file).get("eaf.width", "mm") == 1250.5
    assert as_scatter(file).sd["Cr"] == 0.12


def test_a_price_book_and_recoveries_with_decimal_commas(tmp_path):
    (tmp_path / "book.csv").write_bytes(
        "material;kind;price;currency_unit;price_basis;Cr;Ni;Fe\n"
        "Erz ß;alloy;1.234,50;crown/t;per t gross;52,5;0,1;\n".encode("cp1252")
    )
    book = as_price_book(tmp_path / "book.csv")
    assert book.materials.at["Erz ß", "price"] == 1234.5
    assert book.contents.at["Erz ß", "Cr"] == 0.525
    (tmp_path / "kept.csv").write_text("element;overall;eaf\nCr;0,96;\nNi;1,000;0,99\n")
    assert as_recoveries(tmp_path / "kept.csv").loc["Ni", ["overall", "eaf"]].tolist() == [1, 0.99]


READERS = {
    "prices": gk.read_prices,
    "plant": gk.read_plant,
    "scatter": gk.heats.read_scatter,
    "book": as_price_book,
    "recoveries": as_recoveries,
}


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\n\n\n",
        b"# only a comment\n",
        b"element\n",
        b"\xff\xfe\x00",
        bytes(range(256)),
        b"PK\x03\x04 nothing",
        "element,overall\nCr,1,2,3,4\n".encode("utf-16"),
        b"element,element,overall\nCr,Cr,1\n",
        b"step,parameter,value,unit\na,b,1e999,C\n",
        b"step,parameter,value,unit\na,b," + b"9" * 400 + b",C\n",
        b"step,parameter,value,unit\nscatter,Xx,1,C\n",
    ],
)
def test_a_bad_file_is_refused_in_words(tmp_path, name, raw):
    file = tmp_path / "bad.csv"
    file.write_bytes(raw)
    try:
        READERS[name](file)
    except gk.InputError as error:
        assert " · must be " in str(error)
    else:
        # A file of the kind asked for, with a name that only another reader refuses.
        assert name == "plant" and b"Xx" in raw


@pytest.mark.parametrize("name", READERS)
def test_paths_and_tables_that_are_none(name, tmp_path):
    table = pd.DataFrame([[1]], columns=pd.MultiIndex.from_tuples([("a", "b")]))
    for source in ("a\0b.csv", tmp_path, tmp_path / "none.csv", 5, table):
        with pytest.raises(gk.InputError):
            READERS[name](source)


def test_a_slip_in_a_column_is_refused_and_an_unknown_one_is_said(tmp_path):
    file = tmp_path / "prices.csv"
    rows = [[*row, "x"] for row in PRICES]
    rows[0][-1] = "co2_t_pert"
    file.write_text(write(rows))
    with pytest.raises(gk.InputError, match=r"row 1, column F .* nearest co2_t_per_t"):
        gk.read_prices(file)
    rows[0][-1] = "colour"
    file.write_text(write(rows))
    assert gk.read_prices(file).remarks == ("prices.csv: column 'colour' is not used",)


def test_bytes_and_marks():
    assert decoded("Güte;1".encode("utf-16-be"), "x") == "Güte;1"
    with pytest.raises(gk.InputError):
        decoded(b"a\0b", "x")
    remarks: list[str] = []
    rows = split_lines('a;b;c\n1;";2\n2;";3\n3;"x;y";4\n', ";", "x", remarks)
    assert rows[1:] == [["1", '"', "2"], ["2", '"', "3"], ["3", "x;y", "4"]]
    assert remarks == [
        "x, row 2, 3: a quotation mark that opens and closes no cell is taken as a character"
    ]


def test_questions_of_customers(tmp_path):
    from gradekit.app.panels.asked import read_questions

    file = tmp_path / "questions.json"
    one = '{"customer": "A", "reference": "1.4404", "candidates": "1.4301", "service": {}}'
    file.write_bytes(f'{{"questions": [{one}]}}'.encode("utf-16"))
    assert list(read_questions(file)) == ["A"]
    for text, words in [
        (f'{{"questions": [{one}, {one}]}}', "customer · must be another name"),
        (one.replace('"A"', '"A", "customer": "B"'), "each key once"),
        ("[" * 5000, "deep"),
        ("", "got nothing"),
    ]:
        file.write_text(text)
        with pytest.raises(gk.InputError, match=words):
            read_questions(file)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("eaf;temperature_max;1680;MPa", "row 2, column D, unit of eaf.temperature_max.*°F"),
        (
            "hot_mill;force_max;30;",
            "unit of hot_mill.force_max · must be MN, kN or N · got nothing",
        ),
        ("hot_mill;force_mx;30;MN", "nearest hot_mill.force_max"),
    ],
)
def test_a_line_of_the_plant_that_would_not_be_used_is_refused(tmp_path, line, words):
    (tmp_path / "plant.csv").write_text(f"step;parameter;value;unit\n{line}\n")
    with pytest.raises(gk.InputError, match=words):
        gk.works.read_plant(tmp_path / "plant.csv")


def test_a_line_of_the_plant_that_nothing_asks_for_is_said():
    plant = as_plant({"caster.superheat_max": (313.15, "K"), "works.cranes": (3, "1")})
    assert plant.get("caster.superheat_max", "C") == pytest.approx(40)
    assert plant.remarks == ("the plant table: works.cranes is not used",)


def test_a_price_against_the_sign_of_the_other_columns_is_asked_back(tmp_path):
    rows = ["element;price_crown_per_t;recovery;date", "Fe;390.5;0,97;2026", "Ni;15.800;0,98;2026"]
    (tmp_path / "prices.csv").write_text("\n".join(rows))
    with pytest.raises(gk.InputError, match=r"price of Ni.*read one way only.*15.8 or 15800"):
        gk.read_prices(tmp_path / "prices.csv")


@pytest.mark.parametrize("head", [b"%PDF-1.7 ", b"\xd0\xcf\x11\xe0", b"<html><table>", b"PAR1"])
def test_what_is_no_table_is_said(tmp_path, head):
    (tmp_path / "prices.csv").write_bytes(head + bytes(200))
    with pytest.raises(
        gk.InputError, match=r"price list .prices.csv. · must be a CSV, TXT or XLSX"
    ):
        gk.read_prices(tmp_path / "prices.csv")
    with pytest.raises(gk.InputError, match="must be a CSV, TXT, XLSX or JSON file"):
        gk.read_heats(tmp_path / "prices.csv")
