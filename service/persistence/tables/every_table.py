"""Every table of the database, by importing what defines them: what migrations compare with, and a backup holds."""

from collections.abc import Sequence

from sqlalchemy import Table

from service.persistence.tables import (
    allowances,
    base,
    chain,
    feed_links,
    margin_alerts,
    observed,
    proposals,
    records,
    sales,
    schema_support,
    webhooks,
)

DEFINED_IN = (chain, allowances, feed_links, margin_alerts, records, observed, proposals, sales, schema_support,
              webhooks)
metadata = base.metadata


def every_table() -> Sequence[Table]:
    """All tables, in an order in which references point backwards."""
    return metadata.sorted_tables
