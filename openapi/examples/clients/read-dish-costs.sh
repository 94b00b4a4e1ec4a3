#!/bin/sh
# What dishes cost, with curl: one dish, then the whole menu as a table, which is sent again only when it changed.
#
#     SEAMCOST_URL=http://127.0.0.1:8000 SEAMCOST_KEY=seam_... sh read-dish-costs.sh grilled-cap
#
# Any key with the scope costs:read will do. Needs curl 7.76 or newer. The table goes to dish-costs.csv in this folder.
set -eu
: "${SEAMCOST_URL:?Say where the service is}" "${SEAMCOST_KEY:?Give a key}"
dish=${1:?Name a dish by its code}

ask() {
    # On a refusal curl ends with 22, and the answer says what is wrong and how to mend it.
    curl --silent --show-error --fail-with-body --header "Authorization: Bearer $SEAMCOST_KEY" "$@"
}

ask "$SEAMCOST_URL/v1/dish-costs/$dish"

# Ask so every minute, if you like: curl keeps the tag of the table it has, and 304 says that it is still the newest.
ask --etag-compare dish-costs.etag --etag-save dish-costs.etag --output dish-costs.csv --write-out '%{http_code}\n' \
    --header 'Accept: text/csv' "$SEAMCOST_URL/v1/dish-costs"
