-- Moves are few among a farm's events, and tell which batch lies in which bay.

CREATE INDEX events_moves ON events (farm_id) WHERE kind = 'move';
