-- Farms, bays, feedstocks, batches, events, outbox, idempotency keys and API keys.
-- {text} is text in byte order; {clustered} keeps a table's rows in the order of its primary key where that exists.

CREATE TABLE farms (
    id {text} PRIMARY KEY,
    name {text} NOT NULL,
    site {text} NOT NULL,
    time_zone {text} NOT NULL,
    barrow_m3 DOUBLE PRECISION,
    surroundings BIGINT NOT NULL,
    version BIGINT NOT NULL,
    archived_at {text}
);

CREATE TABLE bays (
    farm_id {text} NOT NULL REFERENCES farms (id),
    id {text} NOT NULL,
    position BIGINT NOT NULL,
    bay {text} NOT NULL,
    version BIGINT NOT NULL,
    archived_at {text},
    PRIMARY KEY (farm_id, id)
);

CREATE TABLE feedstocks (
    farm_id {text} NOT NULL REFERENCES farms (id),
    id {text} NOT NULL,
    feedstock {text} NOT NULL,
    version BIGINT NOT NULL,
    archived_at {text},
    PRIMARY KEY (farm_id, id)
);

CREATE TABLE batches (
    farm_id {text} NOT NULL REFERENCES farms (id),
    id {text} NOT NULL,
    name {text} NOT NULL,
    start_bay {text} NOT NULL,
    horizon_days BIGINT,
    forecast_step_days BIGINT,
    criteria {text} NOT NULL,
    event_version BIGINT NOT NULL,
    last_event_id {text},
    version BIGINT NOT NULL,
    archived_at {text},
    PRIMARY KEY (farm_id, id),
    FOREIGN KEY (farm_id, start_bay) REFERENCES bays (farm_id, id)
);

CREATE TABLE events (
    farm_id {text} NOT NULL,
    batch_id {text} NOT NULL,
    id {text} NOT NULL,
    external_id {text},
    kind {text} NOT NULL,
    at {text},
    event {text},
    source_batch {text},
    supersedes {text},
    recorded_at {text} NOT NULL,
    recorded_by {text} NOT NULL,
    PRIMARY KEY (farm_id, batch_id, id),
    FOREIGN KEY (farm_id, batch_id) REFERENCES batches (farm_id, id),
    FOREIGN KEY (farm_id, source_batch) REFERENCES batches (farm_id, id),
    FOREIGN KEY (farm_id, batch_id, supersedes) REFERENCES events (farm_id, batch_id, id)
) {clustered};

CREATE UNIQUE INDEX events_superseded_once ON events (farm_id, batch_id, supersedes) WHERE supersedes IS NOT NULL;

CREATE UNIQUE INDEX events_external_once ON events (farm_id, batch_id, external_id, COALESCE(supersedes, '')) WHERE external_id IS NOT NULL;

CREATE INDEX events_placing ON events (farm_id, batch_id) WHERE kind IN ('addition', 'move', 'merge', 'withdrawal') AND event IS NOT NULL;

CREATE INDEX events_merges ON events (farm_id, batch_id) WHERE source_batch IS NOT NULL;

CREATE TABLE outbox (
    id {text} PRIMARY KEY,
    farm_id {text} NOT NULL,
    batch_id {text} NOT NULL,
    kind {text} NOT NULL,
    created_at {text} NOT NULL
) {clustered};

CREATE TABLE idempotency (
    farm_id {text} NOT NULL,
    caller {text} NOT NULL,
    key {text} NOT NULL,
    request_hash {text} NOT NULL,
    answer {text} NOT NULL,
    expires_at {text} NOT NULL,
    PRIMARY KEY (farm_id, caller, key)
) {clustered};

CREATE INDEX idempotency_expiry ON idempotency (expires_at);

CREATE TABLE api_keys (
    id {text} PRIMARY KEY,
    name {text} NOT NULL,
    hash {text} NOT NULL UNIQUE,
    scope {text} NOT NULL,
    reach {text} NOT NULL,
    created_at {text} NOT NULL,
    revoked_at {text},
    last_used_at {text}
);

CREATE TABLE api_key_farms (
    key_id {text} NOT NULL REFERENCES api_keys (id),
    farm_id {text} NOT NULL REFERENCES farms (id),
    PRIMARY KEY (key_id, farm_id)
) {clustered};
