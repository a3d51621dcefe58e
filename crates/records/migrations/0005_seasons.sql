-- A farm's season and the plan last made of it.

CREATE TABLE seasons (
    farm_id {text} PRIMARY KEY REFERENCES farms (id),
    season {text},
    version BIGINT NOT NULL,
    changed_at {text} NOT NULL,
    plan {text},
    plan_basis {text},
    plan_made_at {text}
);
