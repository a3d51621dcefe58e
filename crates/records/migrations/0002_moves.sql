-- Moves and merges are few among a farm's events, and tell which batch lies in which bay. Each index holds all that is
-- asked, since a planner without statistics would else go through all of the farm's events.

CREATE INDEX events_moves ON events (farm_id, kind, at, id, batch_id) WHERE kind = 'move';

CREATE INDEX events_merged ON events (farm_id, kind, at, id, batch_id, source_batch) WHERE kind = 'merge';
