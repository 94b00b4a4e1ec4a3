"""Sales for tests, in few words, and random ones for Hypothesis."""

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from service.domain.history import Mark
from service.domain.sales import SaleKind, SalesDay, SalesLine
from tests.kitchens import DAY, decimals
from tests.moving_kitchens import END


def a_sale(pos_code: str, quantity: str = "1", net_takings: str = "0", kind: SaleKind = SaleKind.SALE) -> SalesLine:
    """So many portions for so much."""
    return SalesLine(pos_code, Decimal(quantity), Decimal(net_takings), kind)


def a_comp(pos_code: str, quantity: str = "1") -> SalesLine:
    return a_sale(pos_code, quantity, kind=SaleKind.COMP)


def a_staff_meal(pos_code: str, quantity: str = "1") -> SalesLine:
    return a_sale(pos_code, quantity, kind=SaleKind.STAFF_MEAL)


def a_sales_day(business_date: date, *lines: SalesLine, made: Mark | None = None) -> SalesDay:
    return SalesDay(business_date, lines, made or Mark(900, 1))


def sales_lines(codes: list[str]) -> st.SearchStrategy[SalesLine]:
    """A line of one of the codes: portions and their halves, taken back now and then, some given away."""
    quantity, takings = decimals("-3", "40", 1), decimals("-60", "900")
    code = st.sampled_from(codes)
    given = st.builds(SalesLine, code, quantity, st.just(Decimal(0)), st.sampled_from([
        SaleKind.COMP, SaleKind.STAFF_MEAL]))
    sale = st.builds(SalesLine, code, quantity, takings, st.just(SaleKind.SALE))
    return st.one_of(sale, sale, sale, given)


def sales_days(codes: list[str]) -> st.SearchStrategy[list[SalesDay]]:
    """The sales of some of the days on which `tests.moving_kitchens` move."""
    days = [DAY + timedelta(days=number) for number in range((END - DAY).days + 2)]
    lines = st.lists(sales_lines(codes), max_size=12)

    def of(chosen: list[date]) -> st.SearchStrategy[list[SalesDay]]:
        return st.tuples(*(lines.map(lambda told, day=day: a_sales_day(day, *told)) for day in chosen)).map(list)

    return st.lists(st.sampled_from(days), unique=True, max_size=len(days)).flatmap(of)
