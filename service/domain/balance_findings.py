"""What a person should look at in the balance of a breakdown: main cuts that mostly stay, trim that a primal is bought
for, by-products that are short. A menu on which every dish looks fine can leave the big muscle unsold, and no dish's
figure shows it.
"""

from service.domain.breakdown import Role
from service.domain.breakdown_balance import BreakdownBalance, OutputBalance
from service.domain.findings import Finding
from service.domain.network import NIL
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.rounding import PERCENT_PLACES, published

HALF = 50


def balance_findings(balance: BreakdownBalance, currency: str) -> tuple[Finding, ...]:
    """The findings of one breakdown: cuts in the plan's order, then what is about the whole."""
    left = [_mostly_left_over(each, currency) for each in balance.outputs if is_mostly_left_over(each)]
    short = [_short(each) for each in balance.outputs if each.short]
    return (*left, *short, *_bought_for_trim(balance))


def is_mostly_left_over(each: OutputBalance) -> bool:
    """Whether more than half of a main cut stays: a comparison of the published percent."""
    percent = each.left_percent
    return each.output.role is Role.MAIN and percent is not None and published(percent, PERCENT_PLACES) > HALF


def _mostly_left_over(each: OutputBalance, currency: str) -> Finding:
    value = cost_in_words(each.left_value)
    return Finding(
        "mostly_left_over", "cut", each.output.cut,
        f"{cost_in_words(each.left)} kg of {each.output.cut} are left over, {percent_in_words(each.left_percent)} % of "
        f"what comes off: {'a cost that is not known' if value is None else f'{value} {currency} at cost'}. Sell more "
        "of what uses it, or buy the cuts that are used ready-trimmed.")


def _short(each: OutputBalance) -> Finding:
    return Finding(
        "by_product_short", "cut", each.output.cut,
        f"{cost_in_words(each.need.kg)} kg of {each.output.cut} are needed and {cost_in_words(each.used)} kg come off "
        f"what is bought for other cuts: buy {cost_in_words(each.short)} kg by itself.")


def _bought_for_trim(balance: BreakdownBalance) -> tuple[Finding, ...]:
    """Where no main cut binds, and there are some: for them alone less would do."""
    mains = [each for each in balance.outputs if each.output.role is Role.MAIN]
    binding = balance.binding
    if not mains or not binding or any(each.output.role is Role.MAIN for each in binding):
        return ()
    cut, enough = binding[0].output.cut, max((each.input_needed or NIL for each in mains), default=NIL)
    return (Finding(
        "bought_for_trim", "cut", cut,
        f"It is {cut}, a trim, that asks for {cost_in_words(balance.needed_input)} kg of input; for the main cuts "
        f"alone {cost_in_words(enough)} kg would do: buy what is missing of {cut} by itself."),)
