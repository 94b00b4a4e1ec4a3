#!/bin/sh
# Record what an ingredient costs from today on, with curl.
#
#     SEAMCOST_URL=http://127.0.0.1:8000 SEAMCOST_KEY=seam_... sh post-price.sh beef-topside fenmoor 14.90 1 kg
#
# The key needs the scope prices:write. The fourth and fifth say how much the price is for. Needs curl 7.76 or newer.
set -eu
: "${SEAMCOST_URL:?Say where the service is}" "${SEAMCOST_KEY:?Give a key}"
[ $# -eq 5 ] || { echo "Give ingredient, supplier, amount, quantity and unit" >&2; exit 2; }

# The same request under the same Idempotency-Key is recorded once: after a lost answer, send it again as it was.
id=$(od -An -N16 -tx1 /dev/urandom | tr -d ' \n')
curl --silent --show-error --fail-with-body --retry 3 \
    --header "Authorization: Bearer $SEAMCOST_KEY" --header "Idempotency-Key: \"$id\"" \
    --header 'Content-Type: application/json' \
    --data "{\"supplier\": \"$2\", \"amount\": \"$3\", \"pack_quantity\": \"$4\", \"pack_unit\": \"$5\"}" \
    "$SEAMCOST_URL/v1/ingredients/$1/prices"
