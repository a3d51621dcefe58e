#!/bin/sh
# Appends a core temperature and prints what is told of the batch before and after.
# reading.sh SERVICE FEED FARM BATCH TEMPERATURE_C, with an API key in BAYCAST_KEY where the service needs one.
# Farm and batch as they stand in an address: %20 for a space.
set -eu
service=$1 feed=$2 farm=$3 batch=$4 temperature_c=$5

# One value of the batch: a column of the sheet.
value() {
  curl -sSf --retry 2 "$service$feed/batches/$batch/$1"
}

# Waits until nothing is being worked out anew.
settled() {
  until curl -sSf --retry 2 "$service$feed/readiness.json" | grep -q '"pending":0'; do sleep 1; done
}

settled
before=$(value core_c)
now=$(date -u +%Y-%m-%dT%H:%M:%SZ)
# The same key again, as after an answer that was lost, records nothing twice.
curl -sSf --retry 2 -o /dev/null "$service/v1/farms/$farm/batches/$batch/events" \
  ${BAYCAST_KEY:+-H "authorization: Bearer $BAYCAST_KEY"} \
  -H 'content-type: application/json' -H "idempotency-key: sh $batch $(date -u +%Y-%m-%dT%H:%M)" \
  -d "{\"entries\": [{\"event\": {\"at\": \"$now\", \"reading\": {\"temperature_c\": $temperature_c, \"depth_m\": 0.5}}}]}"
settled
beds=$(value 'opens?use=bed_dressing')
echo "$batch: $(value stage), core $before to $(value core_c) °C, beds from ${beds:-beyond the horizon}"
