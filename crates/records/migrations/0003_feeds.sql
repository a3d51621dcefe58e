-- Private addresses under which a farm's readiness is read without a key.

CREATE TABLE feeds (
    farm_id {text} NOT NULL REFERENCES farms (id),
    id {text} NOT NULL,
    name {text} NOT NULL,
    hash {text} NOT NULL UNIQUE,
    created_at {text} NOT NULL,
    created_by {text} NOT NULL,
    revoked_at {text},
    last_used_at {text},
    PRIMARY KEY (farm_id, id)
);
