-- Webhooks, what is to be delivered to them, and what each was told last.

CREATE TABLE webhooks (
    farm_id {text} NOT NULL REFERENCES farms (id),
    id {text} NOT NULL,
    url {text} NOT NULL,
    kinds {text} NOT NULL,
    moved_days BIGINT NOT NULL,
    best_by_days BIGINT NOT NULL,
    secret {text} NOT NULL,
    previous_secret {text},
    previous_until {text},
    version BIGINT NOT NULL,
    created_at {text} NOT NULL,
    created_by {text} NOT NULL,
    disabled_at {text},
    disabled_because {text},
    PRIMARY KEY (farm_id, id)
);

CREATE TABLE deliveries (
    farm_id {text} NOT NULL,
    webhook_id {text} NOT NULL,
    id {text} NOT NULL,
    batch_id {text},
    kind {text} NOT NULL,
    body {text} NOT NULL,
    state {text} NOT NULL,
    attempts BIGINT NOT NULL,
    next_at {text} NOT NULL,
    leased_until {text},
    outcome {text},
    created_at {text} NOT NULL,
    delivered_at {text},
    PRIMARY KEY (farm_id, webhook_id, id),
    FOREIGN KEY (farm_id, webhook_id) REFERENCES webhooks (farm_id, id)
);

CREATE INDEX deliveries_due ON deliveries (next_at) WHERE state = 'waiting';

CREATE INDEX deliveries_leased ON deliveries (farm_id, webhook_id) WHERE leased_until IS NOT NULL;

CREATE INDEX deliveries_age ON deliveries (created_at);

CREATE TABLE webhook_told (
    farm_id {text} NOT NULL,
    webhook_id {text} NOT NULL,
    batch_id {text} NOT NULL,
    told {text} NOT NULL,
    PRIMARY KEY (farm_id, webhook_id, batch_id),
    FOREIGN KEY (farm_id, webhook_id) REFERENCES webhooks (farm_id, id),
    FOREIGN KEY (farm_id, batch_id) REFERENCES batches (farm_id, id)
) {clustered};
