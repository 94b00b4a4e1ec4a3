"""What if: `/what-if`. What is supposed stands in the address, so that it can be shared as a link."""

from service.rest.fields.exact_field import says
from service.rest.fields.texts import Code, Text
from service.rest.pages.frame import Asked, PageOf
from service.rest.schemas.records import PositionQuery
from service.use_cases.documents import Document
from service.use_cases.read_what_if_page import read_what_if_page

LONGEST = 4000


class WhatIfQuery(PositionQuery):
    """What is supposed, as the page's scripts read it and write it: names and numbers, `code:number,code:number`."""

    dish = Code(metadata=says("The dish that it is about."))
    all_prices = Text(max=20, metadata=says("A percentage by which all prices move."))
    prices = Text(max=LONGEST, metadata=says("Percentages by ingredient."))
    yields = Text(max=LONGEST, metadata=says("Percents of the input, by breakdown and output."))
    menu_prices = Text(max=LONGEST, metadata=says("Menu prices by dish."))
    portions = Text(max=LONGEST, metadata=says("Portions by dish."))


def what_if_page() -> PageOf:
    """`/what-if`: sliders for prices and yields, and the dishes that move."""

    def read(asked: Asked) -> Document:
        return read_what_if_page(asked.snapshot, asked.query.get("dish"))

    return PageOf("what_if", "/what-if", read, WhatIfQuery)
