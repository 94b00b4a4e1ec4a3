"""Which scope each route needs, written by hand: what the code says must be this, and nothing else may be there.

A route that is new is written here by whoever decides who may call it. Paths are those of the routes, without their
converters. HEAD goes with GET. A scope check that is removed, or changed, is a difference to this table.
"""

OPENS = {
    "costs:read": {"costs:read"}, "read": {"read", "costs:read"}, "prices:write": {"prices:write"},
    "prices:approve": {"prices:approve"}, "kitchen:write": {"kitchen:write"}, "menu:write": {"menu:write"},
    "sales:write": {"sales:write"}, "feeds:manage": {"feeds:manage"}, "webhooks:manage": {"webhooks:manage"},
    "admin": {"costs:read", "read", "prices:write", "prices:approve", "kitchen:write", "menu:write", "sales:write",
              "feeds:manage", "webhooks:manage", "admin"}}
"""What a key with one scope opens: of all scopes two imply others."""

NEEDS = {
    "admin": """
        GET /v1/keys
        POST /v1/keys
        DELETE /v1/keys/{key_id}
        PUT /v1/settings""",
    "costs:read": """
        GET /v1/dish-costs
        GET /v1/dish-costs/{code}
        GET /v1/dish-costs/changes""",
    "feeds:manage": """
        GET /v1/feeds
        POST /v1/feeds
        DELETE /v1/feeds/{feed_id}""",
    "kitchen:write": """
        PUT /v1/breakdowns/{code}
        DELETE /v1/breakdowns/{code}
        POST /v1/breakdowns/{code}/yield-tests
        POST /v1/breakdowns/{code}/yield-tests/check
        POST /v1/breakdowns/{code}/yield-tests/{test_id}/set-aside
        PUT /v1/ingredients/{code}
        DELETE /v1/ingredients/{code}
        PUT /v1/recipes/{code}
        DELETE /v1/recipes/{code}""",
    "menu:write": """
        PUT /v1/dishes/{code}
        DELETE /v1/dishes/{code}
        POST /v1/margin-alerts/{alert_id}/acknowledgement""",
    "open": """
        GET /docs
        GET /docs/problems/{slug}
        GET /docs/style.css
        GET /docs/versioning
        GET /feeds/{token}/{kind}/{code}/{figure}
        GET /feeds/{token}/{table}.csv
        GET /health/live
        GET /health/ready
        GET /openapi.json
        GET /prices
        GET /prices/{file}
        GET /session
        POST /session
        DELETE /session
        POST /session/end
        GET /static/{name}""",
    "prices:approve": """
        POST /v1/price-proposals/{proposal_id}/acceptance
        POST /v1/price-proposals/{proposal_id}/rejection""",
    "prices:write": """
        POST /v1/ingredients/{code}/prices
        POST /v1/ingredients/{code}/prices/{price_id}/withdrawal
        POST /v1/price-proposals
        POST /v1/price-proposals/{proposal_id}/look
        PUT /v1/suppliers/{code}
        DELETE /v1/suppliers/{code}
        PUT /v1/suppliers/{code}/items/{item}
        DELETE /v1/suppliers/{code}/items/{item}""",
    "read": """
        GET /
        GET /dishes/{code}
        GET /primals
        GET /primals/{code}
        GET /what-if
        GET /yield-tests
        GET /v1/allergens
        POST /v1/balance
        GET /v1/breakdowns
        GET /v1/breakdowns/{code}
        GET /v1/breakdowns/{code}/comparison
        POST /v1/breakdowns/{code}/comparison
        GET /v1/breakdowns/{code}/cutting-sheet
        GET /v1/breakdowns/{code}/lean-loss
        GET /v1/breakdowns/{code}/yield-tests
        GET /v1/breakdowns/{code}/yields
        GET /v1/changes
        GET /v1/cut-costs
        GET /v1/cut-costs/{code}
        GET /v1/cut-costs/{code}/working
        GET /v1/dish-costs/{code}/mends
        GET /v1/dish-costs/{code}/working
        GET /v1/dishes
        GET /v1/dishes/{code}
        GET /v1/dishes/{code}/allergens
        GET /v1/food-cost-uncertainty
        GET /v1/ingredients
        GET /v1/ingredients/{code}
        GET /v1/ingredients/{code}/impact
        GET /v1/ingredients/{code}/prices
        GET /v1/margin-alerts
        GET /v1/margin-alerts/{alert_id}
        GET /v1/menu-engineering
        GET /v1/price-movements
        POST /v1/price-movements
        GET /v1/price-proposals
        GET /v1/price-proposals/{proposal_id}
        GET /v1/price-proposals/{proposal_id}/rows
        GET /v1/prices
        POST /v1/purchase-price-variance
        GET /v1/recipe-costs
        GET /v1/recipe-costs/{code}
        GET /v1/recipe-costs/{code}/working
        GET /v1/recipes
        GET /v1/recipes/{code}
        GET /v1/sales
        GET /v1/sales/{business_date}
        GET /v1/settings
        GET /v1/suppliers
        GET /v1/suppliers/{code}
        GET /v1/suppliers/{code}/items
        GET /v1/suppliers/{code}/items/{item}
        GET /v1/suppliers/{code}/price-list-template
        GET /v1/theoretical-food-cost
        POST /v1/what-if
        GET /v1/workbook.xlsx""",
    "sales:write": """
        POST /v1/sales
        PUT /v1/sales/{business_date}""",
    "webhooks:manage": """
        GET /v1/webhooks
        POST /v1/webhooks
        GET /v1/webhooks/{webhook_id}
        PUT /v1/webhooks/{webhook_id}
        DELETE /v1/webhooks/{webhook_id}
        GET /v1/webhooks/{webhook_id}/deliveries
        GET /v1/webhooks/{webhook_id}/deliveries/{delivery_id}
        POST /v1/webhooks/{webhook_id}/deliveries/{delivery_id}/replay
        POST /v1/webhooks/{webhook_id}/ping
        POST /v1/webhooks/{webhook_id}/replay
        POST /v1/webhooks/{webhook_id}/rotate-secret"""}

SCOPE_OF = {tuple(line.split()): scope for scope, lines in NEEDS.items() for line in lines.strip().splitlines()}
"""The scope by (method, path)."""
