"""Tables are aligned as people read them."""

from service.cli.text_table import text_table


def test_figures_stand_to_the_right_and_words_to_the_left() -> None:
    table = text_table(["dish", "food cost"], [["grilled-cap", "4.1898"], ["pie", "12.5000"], ["salad", ""]])

    assert table == ("dish         food cost\n"
                     "-----------  ---------\n"
                     "grilled-cap     4.1898\n"
                     "pie            12.5000\n"
                     "salad")


def test_a_column_with_one_word_in_it_is_words() -> None:
    assert text_table(["code"], [["1042"], ["bar"]]).splitlines()[2:] == ["1042", "bar"]


def test_at_least_so_much_is_a_figure() -> None:
    assert text_table(["food cost"], [[">= 3.10"], ["12.00"]]).splitlines()[2:] == ["  >= 3.10", "    12.00"]


def test_accents_and_wide_characters_keep_the_columns_straight() -> None:
    rows = text_table(["name", "cost"], [["cre\u0300me", "1.00"], ["\u725b\u8089", "2.00"]]).splitlines()

    assert rows[2] == "cre\u0300me  1.00"
    assert rows[3] == "\u725b\u8089   2.00"
