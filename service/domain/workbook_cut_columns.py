"""The columns of the sheet of cuts."""

from service.domain.live_table import Band, Column, Form


def cut_columns(currency: str) -> tuple[Column, ...]:
    """What it is, what to change, what it costs, and how that came about."""
    return (
        Column("name", "Output", Form.TEXT, Band.NAMES, 34),
        Column("breakdown", "Breakdown", Form.TEXT, Band.NAMES, 30),
        Column("role", "Role", Form.TEXT, Band.NAMES, 11),
        Column("weighed", "Weighed in tests, kg", Form.NUMBER, Band.ENTRIES),
        Column("declared", "Yield, declared", Form.NUMBER, Band.ENTRIES),
        Column("market", "Market value", Form.NUMBER, Band.ENTRIES),
        Column("split_off", "Value at split-off", Form.NUMBER, Band.ENTRIES),
        Column("relative", "Relative value", Form.NUMBER, Band.ENTRIES),
        Column("finishing", "Finishing", Form.NUMBER, Band.ENTRIES),
        Column("credit", "Credit value", Form.NUMBER, Band.ENTRIES),
        Column("disposal", "Disposal", Form.NUMBER, Band.ENTRIES),
        Column("portion", "Portion, kg", Form.NUMBER, Band.ENTRIES),
        Column("yield_published", "Yield", Form.SHARE, Band.PUBLISHED, 10),
        Column("material_published", f"Material, {currency} per kg", Form.COST, Band.PUBLISHED),
        Column("labour_published", f"Labour, {currency} per kg", Form.COST, Band.PUBLISHED),
        Column("cost_published", f"Cost, {currency} per kg", Form.COST, Band.PUBLISHED),
        Column("portion_published", "Cost per portion", Form.COST, Band.PUBLISHED),
        Column("factor_published", "Cost factor", Form.SHARE, Band.PUBLISHED, 10),
        Column("share_published", "Share of joint cost", Form.SHARE, Band.PUBLISHED, 10),
        Column("chain_yield_published", "Yield of what was bought", Form.SHARE, Band.PUBLISHED),
        Column("to_look_at", "To look at", Form.TEXT, Band.PUBLISHED, 26),
        Column("yield", "Yield", Form.SHARE, Band.WORKING),
        Column("credited", "Credit, per kg of input", Form.COST, Band.WORKING),
        Column("disposed", "Disposal, per kg of input", Form.COST, Band.WORKING),
        Column("value", "Value to share on", Form.COST, Band.WORKING),
        Column("value_yield", "Value x yield", Form.COST, Band.WORKING),
        Column("finishing_yield", "Finishing x yield", Form.COST, Band.WORKING),
        Column("per_pool", "Carried, of each 1 in the pools", Form.COST, Band.WORKING),
        Column("material", "Material per kg", Form.COST, Band.WORKING),
        Column("labour", "Labour per kg", Form.COST, Band.WORKING),
        Column("chain_yield", "Yield of what was bought", Form.SHARE, Band.WORKING),
        Column("missing", "Missing when this copy was made", Form.TEXT, Band.WORKING, 50),
        Column("code", "Code", Form.TEXT, Band.WORKING, 24),
    )
