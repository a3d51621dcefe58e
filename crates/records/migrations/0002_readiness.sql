-- What is told of each batch, every change of it in the farm's order, and who works out what is due.

CREATE TABLE readiness_feeds (
    farm_id {text} PRIMARY KEY REFERENCES farms (id),
    last_sequence BIGINT NOT NULL,
    kept_from BIGINT NOT NULL,
    changed_at {text}
);

CREATE TABLE readiness (
    farm_id {text} NOT NULL,
    batch_id {text} NOT NULL,
    revision BIGINT NOT NULL,
    version {text} NOT NULL,
    etag {text} NOT NULL,
    surroundings BIGINT NOT NULL,
    model_version {text} NOT NULL,
    day {text} NOT NULL,
    content {text},
    changed_at {text} NOT NULL,
    PRIMARY KEY (farm_id, batch_id),
    FOREIGN KEY (farm_id, batch_id) REFERENCES batches (farm_id, id)
);

CREATE TABLE readiness_changes (
    farm_id {text} NOT NULL,
    sequence BIGINT NOT NULL,
    batch_id {text} NOT NULL,
    content {text},
    changed_at {text} NOT NULL,
    PRIMARY KEY (farm_id, sequence),
    FOREIGN KEY (farm_id) REFERENCES readiness_feeds (farm_id)
);

CREATE INDEX readiness_changes_age ON readiness_changes (changed_at);

ALTER TABLE outbox ADD COLUMN claim {text};

ALTER TABLE outbox ADD COLUMN claimed_until {text};

CREATE INDEX outbox_batches ON outbox (farm_id, batch_id);

CREATE INDEX events_sources ON events (farm_id, source_batch) WHERE source_batch IS NOT NULL;
